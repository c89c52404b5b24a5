package columnfile

import (
	"strings"
	"testing"
	"unicode"
)

// broken is a faulty file and the message it must give, without the file's name in front.
type broken struct{ text, message string }

// wholeColumn follows faulty lines, so that nothing else is wrong with the file.
const wholeColumn = "\n[[column]]\nname = \"rumble\"\nband = [16, 60]\nbox = [10, 10, 100, 200]\n"

func mustBreak(t *testing.T, before, after string, rows []broken) {
	t.Helper()
	for _, row := range rows {
		_, err := Parse("columns.toml", []byte(before+row.text+after), nil)
		if err == nil {
			t.Errorf("%s\n is taken", row.text)
			continue
		}
		if got, want := err.Error(), "columns.toml"+row.message; got != want {
			t.Errorf("%s\n got  %s\n want %s", row.text, got, want)
		}
		if strings.ContainsFunc(err.Error(), unicode.IsControl) {
			t.Errorf("%s\n a control character is in the message %q", row.text, err)
		}
	}
}

func TestSlipsOfNotationAreNamedWhereTheyAre(t *testing.T) {
	mustBreak(t, "", wholeColumn, []broken{
		{`feather = 12,5`, `:1:13: a number has a comma; write it with a decimal point, as 12.5`},
		{`, 5`, `:1:1: "," stands outside of any list; count the brackets on the lines above`},
		{"light = \"linear\"\rmotion = \"step\"", `:1:17: a line ends in a lone carriage return; save the file with line ends LF or CRLF`},
		{"\xff\xfel\x00i\x00", `: the file is UTF-16 text; save it as UTF-8`},
		{"\xff\xd8\xff\xe0\x00\x10JFIF", `: this is no text; name a column file; colonnade mark writes one`},
		{"photos = \"f\xfcr\"", `:1:12: byte 0xFC is not UTF-8 text; save the file as UTF-8`},
		{"# für\nphotos = \"ü\" x", `:2:14: x follows a value that is complete; begin a new line for a new key, and put a text in one pair of quotes`},
		{"\ufefffeather=x", `:1:9: x is neither a number nor a text in quotes; write it as "x"`},
		{`light = linear`, `:1:9: linear is neither a number nor a text in quotes; write it as "linear"`},
		{`light = true1`, `:1:13: 1 follows a value that is complete; begin a new line for a new key, and put a text in one pair of quotes`},
		{`light = truly`, `:1:9: truly is neither a number nor a text in quotes; write it as "truly"`},
		{`light = encoded # x`, `:1:9: encoded is neither a number nor a text in quotes; write it as "encoded"`},
		{`light linear = "linear"`, `:1:7: "=" is missing after the key; write each setting as key = value`},
		{`light: "linear"`, `:1:6: a key is followed by "=", not by ":"; write each setting as key = value`},
		{`photos = `, `:1:10: a value is missing; write each setting as key = value`},
		{`photos = # none`, `:1:10: a value is missing; write each setting as key = value`},
		{`photos = "photos`, `:1:17: the closing quote of a text is missing; add it at the end of the text`},
		{`photos = 'photos`, `:1:17: the closing quote of a text is missing; add it at the end of the text`},
		{`photos = "C:\photos"`, `:1:13: \ begins an escape, and this is none; write paths with / or in 'single quotes'`},
		{`photos = “photos”`, `:1:10: “ is not a plain quote; write " around texts`},
		{`photos = "a" "b"`, `:1:14: "b" follows a value that is complete; begin a new line for a new key, and put a text in one pair of quotes`},
		{`photos = ~/photos`, `:1:10: ~/photos is neither a number nor a text in quotes; write it as "~/photos"`},
		{`photos = photos/*.jpg`, `:1:10: photos/*.jpg is neither a number nor a text in quotes; write it as "photos/*.jpg"`},
		{`feather = .5`, `:1:11: .5 is not a number; write it with a digit before the point, as 0.5`},
		{`feather = -.5`, `:1:11: -.5 is not a number; write it with a digit before the point, as 0.5`},
		{`feather = 5.`, `:1:13: a digit is missing after the decimal point; write 5.0 for 5.`},
		{`feather = 012`, `:1:11: a number begins with a zero too many; write it without the zero`},
		{`feather = 12px`, `:1:11: 12px is not a number; write text in quotes as "12px", and a number without its unit`},
		{`fps = 24000/1001`, `:1:12: a ratio is not in quotes; write it as "24000/1001"`},
		{`size = 1920x1080`, `:1:8: 1920x1080 is not a number; write text in quotes as "1920x1080", and a number without its unit`},
		{`crop = [0 96]`, `:1:10: a comma or a "]" is missing after this value; separate the values of a list with commas and close it with "]"`},
		{`crop = [0, 96,, 1]`, `:1:15: a value is missing before this comma; remove one of the commas`},
		{`crop = [0, 96, 60, 40`, `:1:22: the list begun on line 1 is not closed; add the missing "]"`},
		{`crop = [0, 96, 60,`, `:1:19: the list begun on line 1 is not closed; add the missing "]"`},
		{`crop = [0, 96, 60, 40]]`, `:1:23: "]" follows a value that is complete; count the brackets, and end the line with the value`},
		{`crop = (0, 96)`, `:1:8: "(" stands where a value should be; write each setting as key = value, each list as [1, 2]`},
		{`= 5`, `:1:1: "=" begins no key; write key = value, [response] or [[column]]`},
		{`feather == 5`, `:1:10: "=" stands where a value should be; write each setting as key = value, each list as [1, 2]`},
		{`feather`, `:1:8: "=" is missing after the key; write each setting as key = value`},
		{"[response\ngain=3", `:1:10: the brackets of this header are not closed; write [response] or [[column]]`},
		{`response = {gain = 3`, `:1:21: the table begun on line 1 is not closed; add the missing "}"`},
		{"feather = \"a\u0001b\"", `:1:13: basic strings cannot have control characters; correct it here or on the line above`},
		{"feather = 3 # \u0001", `:1:15: control characters are not allowed in comments; correct it here or on the line above`},
		{"\u0001", `:1:1: "\x01" begins no key; write key = value, [response] or [[column]]`},
		{`feather = 12 px`, `:1:14: px follows a value that is complete; begin a new line for a new key, and put a text in one pair of quotes`},
		{`feather = +`, `:1:11: + is neither a number nor a text in quotes; write it as "+"`},
		{`feather = -x`, `:1:11: -x is neither a number nor a text in quotes; write it as "-x"`},
		{`light = "\q"`, `:1:10: \ begins an escape, and this is none; write paths with / or in 'single quotes'`},
		{`light = """abc`, `:1:1: the closing quotes of the text that begins here are missing; add them at the end of the text`},
	})
}

func TestWrongValuesAreRefused(t *testing.T) {
	mustBreak(t, "", wholeColumn, []broken{
		{`feather = "12"`, `:1:11: feather is the text "12", not a number; write it as 12.0`},
		{`feather = [12]`, `:1:11: feather is a list, not a number; write it as 12.0`},
		{`base = true`, `:1:8: base is true, neither a level nor a file; write a level as 0, or the name of a photo's file`},
		{`base = 2001-01-01`, `:1:8: base is the date 2001-01-01, neither a level nor a file; write a level as 0, or the name of a photo's file`},
		{`feather = "a\u0001\u001b[0m"`, `:1:11: feather is the text "a\x01\x1b[0m", not a number; write it as 12.0`},
		{`photos = "C:\take"`, `:1:10: photos holds the control character U+0009; write paths with / or in 'single quotes'`},
		{`song = ["a.wav"]`, `:1:8: song is a list, not a text in quotes; write it as "song.wav"`},
		{`song = "` + strings.Repeat("x", 5000), `:1:5009: the closing quote of a text is missing; add it at the end of the text`},
		{`light = "` + strings.Repeat("x", 5000) + `"`, `:1:9: light can not be "` + strings.Repeat("x", 60) + `…"; write "linear" or "encoded"`},
		{`light = "liner"`, `:1:9: light can not be "liner"; did you mean "linear"?`},
		{`light = "foo"`, `:1:9: light can not be "foo"; write "linear" or "encoded"`},
		{`light = true`, `:1:9: light is true, not a text in quotes; write "linear" or "encoded"`},
		{`photos = ""`, `:1:10: photos is empty; write it as "photos"`},
		{`photos = 5`, `:1:10: photos is 5, not a text in quotes; write it as "photos"`},
		{`feather = nan`, `:1:11: feather is nan, not a finite number; write it as 12.0`},
		{`feather = inf`, `:1:11: feather is inf, not a finite number; write it as 12.0`},
		{`feather = 1e400`, `:1:11: feather is 1e400, not a finite number; write it as 12.0`},
		{`feather = -1`, `:1:11: feather is -1, outside 0 to 1000 pixels; write it as 12.0`},
		{`feather = 1001`, `:1:11: feather is 1001, outside 0 to 1000 pixels; write it as 12.0`},
		{`feather = 99999999999999999999999`, `:1:11: feather is 99999999999999999999999, outside 0 to 1000 pixels; write it as 12.0`},
		{`fps = "fast"`, `:1:7: frame rate "fast" is not a number or a ratio; write it as 25, 23.976 or 24000/1001`},
		{`fps = true`, `:1:7: fps is true, not a number or a ratio; write it as 25, 23.976 or "24000/1001"`},
		{`fps = 0`, `:1:7: frame rate 0 is not above 0 and at most 1000 frames a second; 25 is a common choice`},
		{`fps = -25`, `:1:7: frame rate "-25" is not a number or a ratio; write it as 25, 23.976 or 24000/1001`},
		{`size = "19x"`, `:1:8: "19x" is not WIDTHxHEIGHT; write it as "1920x1080"`},
		{`size = [1920, 1080]`, `:1:8: size is a list, not WIDTHxHEIGHT in quotes; write it as "1920x1080"`},
		{`size = "0x5"`, `:1:8: size "0x5" is outside 1 to 65535 pixels a side; write it as "1920x1080"`},
		{`size = "99999999999999999999x5"`, `:1:8: size "99999999999999999999x5" is outside 1 to 65535 pixels a side; write it as "1920x1080"`},
		{`crop = [0, 96, 6000]`, `:1:8: crop has 3 numbers, not 4; write it as [0, 96, 6000, 3375]`},
		{`crop = [0, 96, 6000, 0]`, `:1:22: the height of crop is 0; write it as [0, 96, 6000, 3375]`},
		{`crop = [-1, 96, 6000, 5]`, `:1:9: x of crop is -1, outside 0 to 100000 pixels; write it as 0`},
		{`crop = [0, 96, 6000, 3375, 1]`, `:1:8: crop has 5 numbers, not 4; write it as [0, 96, 6000, 3375]`},
		{`crop = 5`, `:1:8: crop is 5, not a list of 4 numbers; write it as [0, 96, 6000, 3375]`},
		{`steady = "light"`, `:1:10: steady is the text "light", not a list; write it as ["light", "shift"]`},
		{`steady = ["ligth"]`, `:1:11: steady can not be "ligth"; did you mean "light"?`},
		{`steady = ["light", "light"]`, `:1:20: steady has "light" twice; name it once`},
		{`steady = [1]`, `:1:11: steady is 1, not a text in quotes; write "light" or "shift"`},
		{`motion = "disolve"`, `:1:10: motion can not be "disolve"; did you mean "dissolve"?`},
		{`base = -1`, `:1:8: base is -1, outside 0 to 100000; write it as 0`},
		{`base = 1.5`, `:1:8: base is 1.5, not a whole number; write it as 0`},
		{`base = "3"`, `:1:8: base is the text "3", not a level, which has no quotes; write it as 3`},
		{"[[response]]\ngain = 3", `:1:1: the response for all columns has double brackets; write [response] once`},
		{`response = 5`, `:1:12: response is 5, not a table; write [response]`},
	})
}

func TestWrongResponsesAreRefused(t *testing.T) {
	mustBreak(t, "", wholeColumn, []broken{
		{"[response]\nscale = \"eech\"", `:2:9: scale can not be "eech"; did you mean "each"?`},
		{"[response]\nclip = 0.6", `:2:8: clip is 0.6, outside 0 to 0.5 of the frames; write it as 0.01`},
		{"[response]\nfloor = 0.0", `:2:9: floor is 0.0, outside -120 to below 0 dB; write it as -30.0`},
		{"[response]\nfloor=-121", `:2:7: floor is -121, outside -120 to below 0 dB; write it as -30.0`},
		{"[response]\ncurve = 0", `:2:9: curve is 0, outside 0.1 to 10; write it as 1.0`},
		{"[response]\ngain = 61", `:2:8: gain is 61, outside -60 to 60 dB; write it as 0.0`},
		{"[response]\nattack = -1", `:2:10: attack is -1, outside 0 to 10000 ms; write it as 120.0`},
		{"[response]\nrelease=10001", `:2:9: release is 10001, outside 0 to 10000 ms; write it as 120.0`},
		{"[response]\nhold = 2.5", `:2:8: hold is 2.5, not a whole number; write it as 2`},
		{"[response]\nhold = 1001", `:2:8: hold is 1001, outside 0 to 1000 frames; write it as 2`},
		{"[response]\ntop = -1", `:2:7: top is -1, outside 0 to 100000; write it as 5`},
		{"[response]\ntop = 3\nbottom = 3", `:3:10: bottom is 3 and top is 3; make top higher than bottom`},
		{"[response]\ntop = 0", `:2:7: bottom is 0 and top is 0; make top higher than bottom`},
	})
}
