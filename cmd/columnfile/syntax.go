package columnfile

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// The library says what it met and what it looked for. Whoever edits by hand is helped more by what they most
// likely meant, and by the place of the slip, which for a bracket left open is not where the library stops.

// syntaxMistake words what the parser found at an offset, in an expression that begins at start.
func syntaxMistake(s *source, at, start int, message string) error {
	says := func(part string) bool { return strings.Contains(message, part) }
	if says("terminated by") {
		return mistake(s.where(start), "the closing quotes of the text that begins here are missing", "add them at the end of the text")
	}
	if says("array value") || says("incomplete") || looksLikeNewKey(s, at, start) {
		return openList(s, at, start)
	}
	if (says("expected digit") || says(`expected "`)) && at > 0 {
		at-- // the sign before it belongs to the word
	}
	where, word, c := s.where(at), wordAt(s, at), firstRune(s.text[at:])
	switch {
	case strings.ContainsRune("“”„‟«»‘’‚", c) && c != 0:
		return mistake(where, fmt.Sprintf("%c is not a plain quote", c), `write " around texts`)
	case says("start of value") || says("expected keyword") || says("not end of input") || says("expected value") ||
		says("number after sign") || says("expected digit") || says(`expected "`):
		return valueMistake(where, word, c)
	case says("expected newline"):
		return trailingMistake(s, at, c)
	case says("must be quoted"):
		begin := at
		for begin > 0 && strings.IndexByte("0123456789_.+-", s.text[begin-1]) >= 0 {
			begin--
		}
		word = wordAt(s, begin)
		return mistake(s.where(begin), fmt.Sprintf("%s is not a number", printable(word)),
			fmt.Sprintf("write text in quotes as %s, and a number without its unit", quote(word)))
	case says("'=' after key") && c == ':':
		return mistake(where, `a key is followed by "=", not by ":"`, `write each setting as key = value`)
	case says("'=' after key"):
		return mistake(where, `"=" is missing after the key`, `write each setting as key = value`)
	case says("start of key") || says("expected key"):
		return keyMistake(s, at, c)
	case says("to close"):
		return headerMistake(s, at)
	case says("cannot have new lines") || says("unterminated"):
		return mistake(where, "the closing quote of a text is missing", "add it at the end of the text")
	case says("escape") || says("need a character after"):
		return mistake(where, `\ begins an escape, and this is none`, `write paths with / or in 'single quotes'`)
	case says("leading zero"):
		return mistake(where, "a number begins with a zero too many", "write it without the zero")
	case says("decimal point"):
		return mistake(where, "a digit is missing after the decimal point", "write 5.0 for 5.")
	}
	return mistake(where, printable(message), "correct it here or on the line above")
}

// openList is about a list whose comma or bracket is missing: behind the last value, not where the parser
// noticed.
func openList(s *source, at, start int) error {
	newKey := looksLikeNewKey(s, at, start)
	if newKey {
		at = s.lines[s.line(at)-1]
	}
	where := s.where(behindValue(s, at))
	if newKey || at >= len(s.text)-1 {
		what, closing := "list", "]"
		if _, value, _ := bytes.Cut(s.text[start:], []byte("=")); bytes.HasPrefix(bytes.TrimLeft(value, " \t"), []byte("{")) {
			what, closing = "table", "}"
		}
		return mistake(where, fmt.Sprintf("the %s begun on line %d is not closed", what, s.line(start)), fmt.Sprintf("add the missing %q", closing))
	}
	return mistake(where, `a comma or a "]" is missing after this value`, `separate the values of a list with commas and close it with "]"`)
}

// valueMistake is about a word where a value should be.
func valueMistake(where, word string, c rune) error {
	switch {
	case word == "":
		return mistake(where, "a value is missing", "write each setting as key = value")
	case c == ',':
		return mistake(where, "a value is missing before this comma", "remove one of the commas")
	case c == ']' || c == '}' || c == '=' || c == ')' || c == '(':
		return mistake(where, fmt.Sprintf(`"%c" stands where a value should be`, c), "write each setting as key = value, each list as [1, 2]")
	case c == '.' || (c == '+' || c == '-') && len(word) > 1 && (word[1] == '.' || word[1] >= '0' && word[1] <= '9'):
		return mistake(where, fmt.Sprintf("%s is not a number", printable(word)), "write it with a digit before the point, as 0.5")
	}
	return mistake(where, fmt.Sprintf("%s is neither a number nor a text in quotes", printable(word)),
		"write it as "+quote(word))
}

// trailingMistake is about something behind a finished value.
func trailingMistake(s *source, at int, c rune) error {
	where, rest := s.where(at), wordAt(s, at)
	before := byte(0)
	if at > 0 {
		before = s.text[at-1]
	}
	digits := before >= '0' && before <= '9' && len(rest) > 1 && rest[1] >= '0' && rest[1] <= '9'
	switch {
	case c == '\r':
		return mistake(where, "a line ends in a lone carriage return", "save the file with line ends LF or CRLF")
	case c == ',' && digits:
		return mistake(where, "a number has a comma", "write it with a decimal point, as 12.5")
	case c == '/' && digits:
		return mistake(where, "a ratio is not in quotes", `write it as "24000/1001"`)
	}
	if c == ']' || c == '}' || c == ',' {
		return mistake(where, fmt.Sprintf(`"%c" follows a value that is complete`, c), "count the brackets, and end the line with the value")
	}
	return mistake(where, fmt.Sprintf("%s follows a value that is complete", printable(rest)),
		"begin a new line for a new key, and put a text in one pair of quotes")
}

// keyMistake is about a line, or a header, that begins like no key.
func keyMistake(s *source, at int, c rune) error {
	if c == ']' || c == '}' || c == ',' {
		return mistake(s.where(at), fmt.Sprintf(`"%c" stands outside of any list`, c),
			"count the brackets on the lines above")
	}
	return mistake(s.where(at), fmt.Sprintf("%s begins no key", quote(string(c))), "write key = value, [response] or [[column]]")
}

// headerMistake is about a header without its closing brackets, or a line that only looks like one because
// the list it belongs to was closed too soon.
func headerMistake(s *source, at int) error {
	line := s.lines[s.line(at)-1]
	begins := strings.TrimLeft(string(s.text[line:at]), "[ \t")
	if begins != "" && (begins[0] >= '0' && begins[0] <= '9' || begins[0] == '-') {
		return mistake(s.where(line), "this looks like part of a list, but the list above is already closed", "count the brackets on the lines above")
	}
	return mistake(s.where(at), "the brackets of this header are not closed", "write [response] or [[column]]")
}

// looksLikeNewKey is whether the line at an offset begins a key or a header although the expression that
// began on an earlier line is not finished.
func looksLikeNewKey(s *source, at, start int) bool {
	if s.line(at) <= s.line(start) {
		return false
	}
	line := bytes.TrimLeft(s.text[s.lines[s.line(at)-1]:], " \t")
	line, _, _ = bytes.Cut(line, []byte("\n"))
	word := bytes.TrimLeft(line, "[")
	brackets := len(line) - len(word)
	key := bytes.TrimLeftFunc(word, func(r rune) bool { return unicode.IsLetter(r) || r == '_' || r == '-' })
	if len(key) == len(word) {
		return false
	}
	key = bytes.TrimLeft(key, " \t")
	return brackets == 0 && bytes.HasPrefix(key, []byte("=")) ||
		brackets > 0 && bytes.HasPrefix(key, bytes.Repeat([]byte("]"), brackets))
}

// behindValue is the offset behind the last byte before at that is no space, line end or comment.
func behindValue(s *source, at int) int {
	if at == len(s.text)-1 {
		at = len(s.text) // at the end of the file the parser points at the last byte
	}
	for {
		at = len(bytes.TrimRight(s.text[:at], " \t\r\n"))
		if at == 0 {
			return 0
		}
		line := s.lines[s.line(at-1)-1]
		comment := commentIn(s.text[line:at])
		if comment < 0 {
			return at
		}
		at = line + comment
	}
}

// commentIn is the offset of the # that begins a comment in a line, or -1; a # inside quotes begins none.
func commentIn(line []byte) int {
	quoted := byte(0)
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case quoted == '"' && c == '\\':
			i++
		case quoted != 0:
			if c == quoted {
				quoted = 0
			}
		case c == '"' || c == '\'':
			quoted = c
		case c == '#':
			return i
		}
	}
	return -1
}

// wordAt is the text from an offset to the end of its value: a line's end or comment, and in a list the next
// comma or bracket.
func wordAt(s *source, at int) string {
	rest, _, _ := bytes.Cut(s.text[at:], []byte("\n"))
	if comment := commentIn(rest); comment >= 0 {
		rest = rest[:comment]
	}
	before := bytes.TrimRight(s.text[:at], " \t\r\n")
	if len(before) > 0 && (before[len(before)-1] == '[' || before[len(before)-1] == ',') {
		if end := bytes.IndexAny(rest, ",]"); end > 0 {
			rest = rest[:end]
		}
	}
	word := strings.TrimRight(string(rest), " \t\r")
	if utf8.RuneCountInString(word) > longestQuote {
		word = string([]rune(word)[:longestQuote]) + "…"
	}
	return word
}

func firstRune(text []byte) rune {
	if len(text) == 0 {
		return 0
	}
	r, _ := utf8.DecodeRune(text)
	return r
}
