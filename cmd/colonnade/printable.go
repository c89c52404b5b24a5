package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// oneLine is a message as one line that a terminal only shows: line breaks become spaces, and what a terminal or the order of
// writing would act upon is escaped. Messages repeat names of files and texts that strangers chose.
func oneLine(text string) string {
	var line strings.Builder
	broken := false
	for i, size := 0, 0; i < len(text); i += size {
		var r rune
		r, size = utf8.DecodeRuneInString(text[i:])
		switch {
		case r == '\n' || r == '\r' || r == '\t':
			broken = true
			continue
		case broken && line.Len() > 0:
			line.WriteByte(' ')
		}
		broken = false
		if unicode.IsPrint(r) && (r != utf8.RuneError || size > 1) {
			line.WriteString(text[i : i+size])
		} else {
			quoted := strconv.Quote(text[i : i+size])
			line.WriteString(quoted[1 : len(quoted)-1])
		}
	}
	return strings.TrimSpace(line.String())
}

// encodeJSON is a value as JSON, in one line or with an indent in several, with the same care: package json leaves as they are
// all letters above U+007E, among them the control codes of eight-bit terminals.
func encodeJSON(value any, indent string) ([]byte, error) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", indent)
	if err := encoder.Encode(value); err != nil {
		return nil, err
	}
	var out []byte
	for _, r := range text.String() {
		switch {
		case r == '\n' || unicode.IsPrint(r):
			out = utf8.AppendRune(out, r)
		case r > 0xffff:
			high, low := utf16.EncodeRune(r)
			out = fmt.Appendf(out, `\u%04x\u%04x`, high, low)
		default:
			out = fmt.Appendf(out, `\u%04x`, r)
		}
	}
	return out, nil
}
