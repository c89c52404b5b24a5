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

// scripts are the page's, in the order in which they stand in it.
var scripts = []string{"bytes.js", "response.js", "bank.js", "picture.js", "clock.js", "chart.js", "rows.js", "columnfile.js", "tuning.js", "hands.js", "main.js"}

// Script is the page's script, a function of its own around all of it, or around the files that are named.
func Script(names ...string) string {
	if len(names) == 0 {
		names = scripts
	}
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

// writePage puts the page together. Texts that come from outside stand in it as JSON whose <, > and & are escaped, and as
// escaped HTML in the title, so that none of them can end the element it is in.
func writePage(w io.Writer, title string, c *content) error {
	data, err := json.Marshal(c)
	if err != nil {
		return err
	}
	style, script := file("page.css"), Script()
	_, err = strings.NewReplacer(
		"{{title}}", html.EscapeString(title),
		"{{style-hash}}", digest(style),
		"{{script-hash}}", digest(script),
		"{{style}}", style,
		"{{script}}", script,
		"{{piece}}", string(data),
	).WriteString(w, file("page.html"))
	return err
}

// digest names a text in the page's policy (W3C Content Security Policy Level 3, hash-source).
func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
