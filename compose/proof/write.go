package proof

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"html"
	"io"
	"strings"
)

//go:embed page/*
var files embed.FS

// scripts are the proof page's, in the order in which they stand in it; regionScripts those of the page for regions.
var scripts = []string{"bytes.js", "response.js", "bank.js", "picture.js", "clock.js", "chart.js", "rows.js", "columnfile.js", "tuning.js", "hands.js", "main.js"}

var regionScripts = []string{"bytes.js", "columnfile.js", "regionfile.js", "polygon.js", "regionstage.js", "regions.js"}

// Script is the script that some of the pages' files make, with a function of its own around them.
func Script(names ...string) string {
	var b strings.Builder
	b.WriteString("(() => {\n\"use strict\";\n")
	for _, name := range names {
		b.WriteString(file(name))
	}
	b.WriteString("})();")
	return b.String()
}

// file is a file of the page; one that is not there is a mistake of this package, which its tests would show.
func file(name string) string {
	text, err := files.ReadFile("page/" + name)
	if err != nil {
		return ""
	}
	return string(text)
}

// writePage puts a page together. Texts that come from outside stand in it as JSON whose <, > and & are escaped, and as
// escaped HTML in the title, so that none of them can end the element it is in.
func writePage(w io.Writer, page, title, styles string, scripts []string, c any) error {
	data, err := json.Marshal(c)
	if err != nil {
		return err
	}
	style, script := file(styles), Script(scripts...)
	_, err = strings.NewReplacer(
		"{{title}}", html.EscapeString(title),
		"{{style-hash}}", digest(style),
		"{{script-hash}}", digest(script),
		"{{style}}", style,
		"{{script}}", script,
		"{{piece}}", string(data),
	).WriteString(w, file(page))
	return err
}

// digest names a text in the page's policy (W3C Content Security Policy Level 3, hash-source).
func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
