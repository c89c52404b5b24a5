package main

import (
	"runtime"
	"runtime/debug"
	"testing"
)

// The keys are those of runtime/debug.BuildSetting, "(devel)" is what the go command writes for a module without a version.
func TestVersionNamesWhatIsKnownOfTheBuild(t *testing.T) {
	stamped := func(module string, settings ...debug.BuildSetting) *debug.BuildInfo {
		return &debug.BuildInfo{Main: debug.Module{Version: module}, Settings: settings}
	}
	revision := debug.BuildSetting{Key: "vcs.revision", Value: "0123abcd"}
	for _, row := range []struct {
		name, commit, want string
		info               *debug.BuildInfo
	}{
		{"no stamp at all", "", "", nil},
		{"a build without a stamp", "", "", stamped("(devel)")},
		{"told by whoever builds", "89ef", "commit 89ef\n", nil},
		{"told, and stamped otherwise", "89ef", "commit 89ef\n", stamped("(devel)", revision)},
		{"stamped", "", "commit 0123abcd\n", stamped("v0.0.0-20261125", revision, debug.BuildSetting{Key: "vcs.modified", Value: "false"})},
		{"stamped amid changes", "", "commit 0123abcd, modified\n", stamped("(devel)", revision, debug.BuildSetting{Key: "vcs.modified", Value: "true"})},
		{"amid changes of nothing known", "", "", stamped("(devel)", debug.BuildSetting{Key: "vcs.modified", Value: "true"})},
		{"an installed module", "", "module v1.2.3\n", stamped("v1.2.3")},
	} {
		want := "colonnade " + Version + "\n" + row.want + runtime.Version() + " " + runtime.GOOS + "/" + runtime.GOARCH
		if got := versionOf(row.info, row.commit); got != want {
			t.Errorf("%s: %q, want %q", row.name, got, want)
		}
	}
}
