package main

import (
	"runtime"
	"runtime/debug"
	"strings"
)

// commit is what the program was built from, where whoever builds it says so: -ldflags "-X main.commit=...". Without, the go
// command's own stamp serves.
var commit string

// version is which build of the program this is.
func version() string {
	info, _ := debug.ReadBuildInfo()
	return versionOf(info, commit)
}

// versionOf is the version, the commit where one is known, or else the version of the module that was installed, and the
// Go version and system, a line each. info may be nil: not every build carries one.
func versionOf(info *debug.BuildInfo, commit string) string {
	lines := []string{"colonnade " + Version}
	module := ""
	if info != nil {
		module = info.Main.Version
		if commit == "" {
			commit = stampedCommit(info)
		}
	}
	switch {
	case commit != "":
		lines = append(lines, "commit "+commit)
	case module != "" && module != "(devel)":
		lines = append(lines, "module "+module)
	}
	lines = append(lines, runtime.Version()+" "+runtime.GOOS+"/"+runtime.GOARCH)
	return strings.Join(lines, "\n")
}

// stampedCommit is the commit that the go command noted, if it noted one.
func stampedCommit(info *debug.BuildInfo) string {
	revision, modified := "", ""
	for _, setting := range info.Settings {
		switch setting.Key {
		case "vcs.revision":
			revision = setting.Value
		case "vcs.modified":
			if setting.Value == "true" {
				modified = ", modified"
			}
		}
	}
	if revision == "" {
		return ""
	}
	return revision + modified
}
