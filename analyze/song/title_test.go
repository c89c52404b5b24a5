package song

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestTitlesAreSafeToPrint(t *testing.T) {
	for raw, want := range map[string]string{
		"":                                   "",
		"Stones on a windowsill":             "Stones on a windowsill",
		"  two\n\tlines\r\n ":                "two lines",
		"red \x1b[31m and \u009b31m":         "red [31m and 31m",
		"turned \u202eover\u202c \u2066so":   "turned over so",
		"line\u2028and\u2029paragraph":       "line and paragraph",
		"joined\u200bwithout\ufeffseeing it": "joinedwithoutseeing it",
		"filled\x00with what was there":      "filled",
		"caf\xe9 in Latin-1":                 "café in Latin-1",
		"Übung – ünï 歌":                      "Übung – ünï 歌",
		strings.Repeat("ä", 300):             strings.Repeat("ä", 200),
		strings.Repeat("ab ", 100):           strings.TrimSpace(strings.Repeat("ab ", 67)[:200]),
	} {
		if got := cleanTitle(raw); got != want {
			t.Errorf("%q is shown as %q, want %q", raw, got, want)
		}
	}
}

func TestTitleOfAVorbisComment(t *testing.T) {
	whole := vorbisComment("ARTIST=Nobody", "title=Three stones", "TITLE=Four")
	if got := commentTitle(whole); got != "Three stones" {
		t.Errorf("the title is %q", got)
	}
	for n := range whole {
		if got := commentTitle(whole[:n]); got != "" && got != "Three stones" {
			t.Fatalf("the first %d bytes have the title %q", n, got)
		}
	}
	for _, b := range [][]byte{vorbisComment(), vorbisComment("TITLE="), vorbisComment("SUBTITLE=no"), bytes.Repeat([]byte{0xff}, 50)} {
		if got := commentTitle(b); got != "" {
			t.Errorf("%q has the title %q", b, got)
		}
	}
}

func TestTitleOfAFLACFile(t *testing.T) {
	song := ramp(44100, 16, 1, 16)
	tag := id3Tag(4, 0, id3Frame(4, "TIT2", 3, "From the tag"))
	plain, _ := song.file()
	song.comment = vorbisComment("Title=From the comment")
	commented, _ := song.file()
	for _, c := range []struct {
		file []byte
		want string
	}{
		{plain, ""}, {commented, "From the comment"},
		{slices.Concat(tag, plain), "From the tag"}, {slices.Concat(tag, commented), "From the comment"},
	} {
		if got := mustOpen(t, c.file).Info().Title; got != c.want {
			t.Errorf("the title is %q, want %q", got, c.want)
		}
	}
}

func TestTitleOfAWAVFile(t *testing.T) {
	data := chunkOf("data", pair)
	list := func(body string) []byte { return chunkOf("LIST", []byte(body)) }
	name := list("INFOIART\x03\x00\x00\x00me\x00\x00INAM\x07\x00\x00\x00Stones\x00")
	for _, c := range []struct {
		file []byte
		want string
	}{
		{riffFile("RIFF", mono16, data), ""},
		{riffFile("RIFF", name, mono16, data), "Stones"},
		{riffFile("RIFF", mono16, list("adtlINAM\x02\x00\x00\x00no"), name, data), "Stones"},
		{riffFile("RIFF", mono16, data, name), "Stones"},
		{riffFile("RIFF", mono16, data, list("INFOINAM\xff\x00\x00\x00Stones")), ""},
		{riffFile("RIFF", mono16, data, list("INFOIART")), ""},
	} {
		s := mustOpen(t, c.file)
		if got := s.Info().Title; got != c.want || len(s.Info().Notes) > 0 {
			t.Errorf("the title is %q, with the notes %q, want %q", got, s.Info().Notes, c.want)
		}
	}
}

// The codings and flags are those of ID3v2.2.0, ID3v2.3.0 and ID3v2.4.0-structure.
func TestTitleOfAnID3Tag(t *testing.T) {
	padded := func(b []byte) []byte { return append(b, make([]byte, 50)...) }
	picture := func(version byte, name string) []byte {
		return id3Raw(version, name, 0, bytes.Repeat([]byte("\xff\x00JPEG"), 40_000))
	}
	extended3 := append([]byte{0, 0, 0, 6}, make([]byte, 6)...)
	extended4 := append(sevens(6), 1, 0)
	unsynced := id3Tag(3, 0x80, bytes.ReplaceAll(id3Frame(3, "TIT2", 1, "\xff\xfeS\x00t\x00\xfc\x00\xff\x00"), []byte{0xff}, []byte{0xff, 0}))
	for name, c := range map[string]struct {
		tag  []byte
		want string
	}{
		"2.2":                         {id3Tag(2, 0, id3Frame(2, "TP1", 0, "Nobody"), id3Frame(2, "TT2", 0, "St\xfcck")), "Stück"},
		"2.3, Latin-1":                {id3Tag(3, 0, id3Frame(3, "TIT2", 0, "St\xfcck\x00")), "Stück"},
		"2.3, UTF-16":                 {id3Tag(3, 0, id3Frame(3, "TIT2", 1, "\xff\xfeS\x00t\x00\xfc\x00")), "Stü"},
		"2.3, UTF-16 the other way":   {id3Tag(3, 0, id3Frame(3, "TIT2", 1, "\xfe\xff\x00S\x00t\x00\xfc")), "Stü"},
		"2.4, UTF-16 without a mark":  {id3Tag(4, 0, id3Frame(4, "TIT2", 2, "\x00S\x00t\x00\xfc")), "Stü"},
		"2.4, UTF-8":                  {id3Tag(4, 0, id3Frame(4, "TIT2", 3, "Stück\x00Another")), "Stück"},
		"half a UTF-16 character":     {id3Tag(4, 0, id3Frame(4, "TIT2", 2, "\x00S\xd8")), "S"},
		"behind a picture":            {id3Tag(4, 0, picture(4, "APIC"), id3Frame(4, "TIT2", 3, "Stones")), "Stones"},
		"padding":                     {id3Tag(3, 0, padded(id3Frame(3, "TIT2", 0, "Stones"))), "Stones"},
		"padding in place of a title": {id3Tag(3, 0, padded(nil)), ""},
		"2.3, extended header":        {id3Tag(3, 0x40, extended3, id3Frame(3, "TIT2", 0, "Stones")), "Stones"},
		"2.4, extended header":        {id3Tag(4, 0x40, extended4, id3Frame(4, "TIT2", 0, "Stones")), "Stones"},
		"2.3, unsynchronised":         {unsynced, "Stüÿ"},
		"2.4, frame unsynchronised":   {id3Tag(4, 0, id3Raw(4, "TIT2", 3, []byte("\x00\x00\x00\x04\x00St\xff\x00"))), "Stÿ"},
		"2.3, grouped":                {id3Tag(3, 0, id3Raw(3, "TIT2", 0x20, []byte("\x07\x00Stones"))), "Stones"},
		"2.3, compressed":             {id3Tag(3, 0, id3Raw(3, "TIT2", 0x80, []byte("\x00Stones"))), ""},
		"2.4, encrypted":              {id3Tag(4, 0, id3Raw(4, "TIT2", 0x04, []byte("\x00Stones"))), ""},
		"empty":                       {id3Tag(4, 0, id3Raw(4, "TIT2", 0, nil)), ""},
		"a frame beyond the tag":      {id3Tag(3, 0, append([]byte("TIT2\x7f\xff\xff\xff\x00\x00\x00"), "Stones"...)), ""},
		"version 5":                   {id3Tag(5, 0, id3Frame(4, "TIT2", 3, "Stones")), ""},
	} {
		got := id3Title(bytes.NewReader(append(c.tag, make([]byte, 100)...)))
		if got != c.want {
			t.Errorf("%s: the title is %q, want %q", name, got, c.want)
		}
		for n := 0; n < min(len(c.tag), 200); n++ {
			id3Title(bytes.NewReader(c.tag[:n])) // must come back
		}
	}
}

func FuzzTitle(f *testing.F) {
	f.Add(id3Tag(3, 0x80, id3Frame(3, "TIT2", 1, "\xff\xfeS\x00")))
	f.Add(id3Tag(4, 0x40, append(sevens(6), 1, 0), id3Raw(4, "TIT2", 3, []byte("\x00\x00\x00\x04\x00St\xff\x00"))))
	f.Add(vorbisComment("A=b", "TITLE=Stones"))
	f.Add([]byte("INFOINAM\x06\x00\x00\x00Stones"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, title := range []string{id3Title(bytes.NewReader(b)), commentTitle(b), infoTitle(b), cleanTitle(string(b))} {
			if title != cleanTitle(title) || utf8.RuneCountInString(title) > maxTitle || strings.ContainsAny(title, "\x00\x1b\n\u202e") {
				t.Errorf("the title is %q", title)
			}
		}
	})
}
