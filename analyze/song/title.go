package song

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	// maxTitle bounds a title, in characters: it stands in a line of text.
	maxTitle = 200
	// maxTags bounds the tags that are looked at, in bytes. A title comes before a picture or is not worth the
	// memory.
	maxTags = 64 << 10
)

// cleanTitle is a title as it may stand in a line of text: without characters that would act on a terminal,
// break the line or turn the direction of writing, with single spaces, and not too long.
func cleanTitle(raw string) string {
	if !utf8.ValidString(raw) {
		raw = latin1([]byte(raw))
	}
	if end := strings.IndexByte(raw, 0); end >= 0 {
		raw = raw[:end] // common practice, no source: fields are filled up with zeros
	}
	raw = strings.Map(func(c rune) rune {
		if unicode.Is(unicode.Cf, c) {
			return -1 // turns the direction of writing, joins, hyphenates: nothing that is seen
		}
		return c
	}, raw)
	var clean strings.Builder
	length := 0
	for _, word := range strings.FieldsFunc(raw, unprintable) {
		if length > 0 {
			clean.WriteByte(' ')
			length++
		}
		for _, c := range word {
			if length >= maxTitle {
				return strings.TrimSpace(clean.String())
			}
			clean.WriteRune(c)
			length++
		}
	}
	return clean.String()
}

// unprintable tells white space and the characters that a line of text must not have.
func unprintable(c rune) bool {
	return c == utf8.RuneError || unicode.IsSpace(c) || !unicode.IsGraphic(c)
}

// latin1 is text coded in ISO 8859-1, where each byte is the number of a character.
func latin1(b []byte) string {
	text := make([]rune, len(b))
	for i, c := range b {
		text[i] = rune(c)
	}
	return string(text)
}

// commentTitle finds the title in a Vorbis comment (RFC 9639, 8.6; RFC 7845, 5.2): the name of the program, then
// the number of fields, then the fields, "NAME=text" in UTF-8, each text with its length in front. The end of
// the comment may be missing.
func commentTitle(b []byte) string {
	next := func() ([]byte, bool) {
		if len(b) < 4 {
			return nil, false
		}
		length := binary.LittleEndian.Uint32(b)
		if int64(length) > int64(len(b)-4) {
			return nil, false
		}
		text := b[4 : 4+length]
		b = b[4+length:]
		return text, true
	}
	if _, ok := next(); !ok || len(b) < 4 {
		return ""
	}
	fields := binary.LittleEndian.Uint32(b)
	b = b[4:]
	for ; fields > 0; fields-- {
		field, ok := next()
		if !ok {
			return ""
		}
		const name = "TITLE="
		if len(field) > len(name) && strings.EqualFold(string(field[:len(name)]), name) {
			return cleanTitle(string(field[len(name):]))
		}
	}
	return ""
}

// infoTitle finds the title in the body of a WAV file's LIST chunk: "INFO", then chunks, of which INAM is the name
// (Multimedia Programming Interface and Data Specifications 1.0, "INFO List Chunk").
func infoTitle(b []byte) string {
	if !bytes.HasPrefix(b, []byte("INFO")) {
		return ""
	}
	for b = b[4:]; len(b) >= chunkHeaderSize; {
		name, size := string(b[:4]), int64(binary.LittleEndian.Uint32(b[4:]))
		b = b[chunkHeaderSize:]
		if size > int64(len(b)) {
			return ""
		}
		if name == "INAM" {
			return cleanTitle(string(b[:size]))
		}
		b = b[min(int64(len(b)), size+size&1):]
	}
	return ""
}
