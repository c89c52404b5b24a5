package columnfile

import (
	"fmt"
	"strings"
	"testing"
)

func TestKeysUnknownMisplacedOrRepeated(t *testing.T) {
	mustBreak(t, "", wholeColumn, []broken{
		{"fether = 5\nlihgt = 4", `:1:1: unknown key "fether" and 1 more; did you mean "feather"?`},
		{"[response]\nfeather.x = 5\n\n[a.b]\n[a]", `:2:1: unknown key "feather" and 1 more; "feather" belongs at the top of the file or in [[column]]`},
		{"feather = 5\nfeather.x = 5", `:2:1: "feather" is already set on line 1; keep one of the two`},
		{"'fether\u202e' = 5", `:1:1: unknown key "fether\u202e"; did you mean "feather"?`},
		{`fether = 5`, `:1:1: unknown key "fether"; did you mean "feather"?`},
		{`gain = 3`, `:1:1: unknown key "gain"; "gain" belongs in [response]`},
		{`gian = 3`, `:1:1: unknown key "gian"; did you mean "gain" in [response]?`},
		{`band = [1,2]`, `:1:1: unknown key "band"; "band" belongs in [[column]]`},
		{`Feather = 3`, `:1:1: unknown key "Feather"; write it as "feather"`},
		{"zzzz = 3\nyyy = 4\nxxx=5", `:1:1: unknown key "zzzz" and 2 more; the keys at the top of the file are photos, song, offset, fps, base, feather, light, motion, size, crop, steady, response, column`},
		{`colums = 3`, `:1:1: unknown key "colums"; did you mean [[column]]?`},
		{"feather = 3\nfeather = 4", `:2:1: "feather" is already set on line 1; keep one of the two`},
		{"[respons]\ngain=3", `:1:1: unknown key "respons"; did you mean [response]?`},
		{"[response]\nfeather = 3", `:2:1: unknown key "feather"; "feather" belongs at the top of the file or in [[column]]`},
		{"[response]\nfps = 3", `:2:1: unknown key "fps"; "fps" belongs at the top of the file`},
		{"[response]\n[response]", `:2:1: "response" is already set on line 1; keep one of the two`},
		{"response.gain = 3\n[response]", `:2:2: table response already exists as defined by a dotted key; write each table and each key once`},
		{`response = {gain = 3, gain = 4}`, `:1:23: "gain" is already set on line 1; keep one of the two`},
		{`[column.response]`, `:2:1: "column" is already set on line 1; begin each column with [[column]]`},
		{`column = 5`, `:2:1: "column" is already set on line 1; begin each column with [[column]]`},
		{"[column]\nname = \"a\"\n\n[column]", `:4:1: "column" is already set on line 1; begin each column with [[column]]`},
		{`[540, 980]]`, `:1:1: this looks like part of a list, but the list above is already closed; count the brackets on the lines above`},
	})
}

func TestFilesWithoutWholeColumns(t *testing.T) {
	mustBreak(t, "", "", []broken{
		{`column = "a"`, `:1:10: column is the text "a", not a table; write [[column]]`},
		{"[[column]]\nname = \"a\"\nregion = [[0, 0], [9, 0], [9, 9]]\nbox = [0, 0, 9, 9]", `:4:1: the column has both a region and a box; keep one of the two`},
		{"[[column]]\nname = \"a\" # the \"first\"\nregion = [[0, 0], [9, 0], [9, 9],  # up\n", `:3:34: the list begun on line 3 is not closed; add the missing "]"`},
		{"[[column]]\nname = { a = 1 }", `:2:8: name is a table, not a text in quotes; write it as "rumble"`},
		{"[[column]]\nname = \"a\"\nbox = [0, 0, " + strings.Repeat("9", 70) + ", 9]", `:3:14: width of box is ` + strings.Repeat("9", 60) + `…, outside 0 to 200000 pixels; write it as 120`},
		{"column = [{name = \"a\"}] # in one line", `:1:11: column "a" has no region; add region = [[x, y], [x, y], [x, y]] or box = [x, y, width, height]`},
		{``, `: the file has no columns; add a [[column]] with a name and a region, or let the command mark write the file`},
		{`# nothing`, `: the file has no columns; add a [[column]] with a name and a region, or let the command mark write the file`},
		{`column = []`, `: the file has no columns; add a [[column]] with a name and a region, or let the command mark write the file`},
		{"[column]\nname=\"a\"", `:1:1: a column has single brackets; write [[column]]`},
		{"[[columns]]\nname=\"a\"", `:1:1: unknown key "columns"; did you mean [[column]]?`},
		{"[[column]\nname=\"a\"", `:1:9: the brackets of this header are not closed; write [response] or [[column]]`},
		{`[ [column] ]`, `:1:3: "[" begins no key; write key = value, [response] or [[column]]`},
		{`column=[1]`, `:1:9: column is 1, not a table; write [[column]]`},
		{"[[column]]\n[[column]]", `:1:1: this [[column]] has no name; add name = "rumble" or the like`},
	})
}

func TestWrongColumnsAreRefused(t *testing.T) {
	mustBreak(t, "feather = 8\n[[column]]\n", "", []broken{
		{"band=[1,2]\nbox=[1,1,20,20]", `:2:1: this [[column]] has no name; add name = "rumble" or the like`},
		{"name=\"\"\nbox=[1,1,20,20]", `:3:6: name is empty; write it as "rumble"`},
		{"name=\"a,b\"\nbox=[1,1,20,20]", `:3:6: name "a,b" holds a comma, which parts the names in a level table; leave it out`},
		{"name=\"a\\\"b\"\nbox=[1,1,20,20]", `:3:6: name "a\"b" holds a quote, which has a meaning of its own in a level table; leave it out`},
		{"name=\"a\\nb\"\nbox=[1,1,20,20]", `:3:6: name "a\nb" holds the invisible character U+000A; leave it out`},
		{"name=\"a\\u200Bb\"\nbox=[1,1,20,20]", `:3:6: name "a\u200bb" holds the invisible character U+200B; leave it out`},
		{"name=\" a\"\nbox=[1,1,20,20]", `:3:6: name " a" begins or ends with a space; leave the space out`},
		{"name=\"Frame\"\nbox=[1,1,20,20]", `:3:6: name "Frame" is a heading of the level table; choose another`},
		{"name=\"time\"\nbox=[1,1,20,20]", `:3:6: name "time" is a heading of the level table; choose another`},
		{"name=5\nbox=[1,1,20,20]", `:3:6: name is 5, not a text in quotes; write it as "rumble"`},
		{"name=\"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\"\nbox=[1,1,20,20]", `:3:6: name "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…" has 65 characters, more than 64; choose a shorter one`},
		{`name="a"`, `:2:1: column "a" has no region; add region = [[x, y], [x, y], [x, y]] or box = [x, y, width, height]`},
		{"name=\"a\"\nbox=[1,1,2,2]\nregion=[[1,1],[2,2],[1,2]]", `:5:1: the column has both a region and a box; keep one of the two`},
		{"name=\"a\"\nbox=[1,1,2]", `:4:5: box has 3 numbers, not 4; write it as [412, 130, 120, 850]`},
		{"name=\"a\"\nbox=[1,1,0,2]", `:4:5: box is 0 wide and 2 high; write [x, y, width, height] with a width and a height above 0`},
		{"name=\"a\"\nbox=[1,1,-4,2]", `:4:10: width of box is -4, outside 0 to 200000 pixels; write it as 120`},
		{"name=\"a\"\nregion=[[1,1],[2,2]]", `:4:8: region has 2 corners, fewer than 3; write it as [[412, 130], [533, 130], [540, 980]]`},
		{"name=\"a\"\nregion=[[1,1],[2,2],[2,2],[1,1]]", `:4:8: region has 2 corners that differ from the one before, fewer than 3; write it as [[412, 130], [533, 130], [540, 980]]`},
		{"name=\"a\"\nregion=[[1,1],[2,2],[3,3]]", `:4:8: region has no area; list corners around the column, not along a line`},
		{"name=\"a\"\nregion=[[1,1],[2,2],[3,3,3]]", `:4:21: corner 3 has 3 numbers, not 2; write it as [412, 130]`},
		{"name=\"a\"\nregion=[1,1,2,2,3,3]", `:4:9: corner 1 is 1, not [x, y]; write it as [[412, 130], [533, 130], [540, 980]]`},
		{"name=\"a\"\nregion=[[1,1],[2,2],[\"3\",3]]", `:4:22: x of corner 3 is the text "3", not a number; write it as 412`},
		{"name=\"a\"\nregion=[[0,0],[20,20],[20,0],[0,20]]", `:4:8: edge 1-2 (0, 0 to 20, 20) of the region crosses or touches edge 3-4 (20, 0 to 0, 20); list the corners in order around the column`},
		{"name=\"a\"\nregion=[[0,0],[1e9,20],[20,0],[0,20]]", `:4:16: x of corner 2 is 1e9, outside -100000 to 100000 pixels; write it as 412`},
		{"name=\"a\"\nregion=[[0,0],[nan,20],[20,0],[0,20]]", `:4:16: x of corner 2 is nan, not a finite number; write it as 412`},
		{"name=\"a\"\nregion=\"all\"", `:4:8: region is the text "all", not a list of corners; write it as [[412, 130], [533, 130], [540, 980]]`},
		{"name=\"a\"\nband=[60,16]\nbox=[1,1,20,20]", `:4:6: band runs from 60 to 16 Hz; write its lower edge first and its upper edge above it, as [16, 60]`},
		{"name=\"a\"\nband=[0,16]\nbox=[1,1,20,20]", `:4:7: lower edge of band is 0 Hz; write an edge above 0, as [16, 60]`},
		{"name=\"a\"\nband=[16,16]\nbox=[1,1,20,20]", `:4:6: band runs from 16 to 16 Hz; write its lower edge first and its upper edge above it, as [16, 60]`},
		{"name=\"a\"\nband=[16]\nbox=[1,1,20,20]", `:4:6: band has 1 number, not 2; write it as [16, 60]`},
		{"name=\"a\"\nband=[16,60,70]\nbox=[1,1,20,20]", `:4:6: band has 3 numbers, not 2; write it as [16, 60]`},
		{"name=\"a\"\nband=[\"16\",60]\nbox=[1,1,20,20]", `:4:7: lower edge of band is the text "16", not a number; write it as 60`},
		{"name=\"a\"\nband=[16Hz,60]\nbox=[1,1,20,20]", `:4:7: 16Hz is not a number; write text in quotes as "16Hz", and a number without its unit`},
		{"name=\"a\"\nband=16\nbox=[1,1,20,20]", `:4:6: band is 16, not a list of 2 numbers; write it as [16, 60]`},
		{"name=\"a\"\nband=\"bass\"\nbox=[1,1,20,20]", `:4:6: band is the text "bass", neither two edges nor all; write it as [16, 60], or as "all" for the whole song`},
		{"name=\"a\"\nfollow=\"onsets\"\nbox=[1,1,20,20]", `:4:8: follow can not be "onsets"; did you mean "onset"?`},
		{"name=\"a\"\nfollow=[1]\nbox=[1,1,20,20]", `:4:8: follow is a list, not a text in quotes; write "level" or "onset"`},
		{"name=\"a\"\nchannel=\"middle\"\nbox=[1,1,20,20]", `:4:9: channel can not be "middle"; write "both" or "left" or "right"`},
		{"name=\"a\"\nchannel=1\nbox=[1,1,20,20]", `:4:9: channel is 1, not a text in quotes; write "both" or "left" or "right"`},
		{"name=\"a\"\nchanel=\"left\"\nbox=[1,1,20,20]", `:4:1: unknown key "chanel"; did you mean "channel"?`},
		{"name=\"a\"\nbox=[1,1,20,20]\n[[column]]\nname=\"a\"\nbox=[1,1,20,20]", `:6:6: name "a" is taken by the [[column]] on line 2; give each column a name of its own`},
		{"name=\"a\"\nbox=[1,1,20,20]\nphotos=\"x\"", `:5:1: unknown key "photos"; "photos" belongs at the top of the file`},
		{"name=\"a\"\nbox=[1,1,20,20]\n[column.response]\ngain=3", `:5:1: unknown key "response"; write its keys in [[column]] itself`},
		{"name=\"a\"\nbox=[1,1,20,20]\nbandd=[1,2]", `:5:1: unknown key "bandd"; did you mean "band"?`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130],\n [540, 980], [405, 980]\nfeather = 8.0\n", `:5:24: the list begun on line 4 is not closed; add the missing "]"`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130], # [x\n [540, 980], [405, 980],\n\n[[column]]\nname=\"b\"\n", `:5:25: the list begun on line 4 is not closed; add the missing "]"`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130] # see \"this\n [540, 980], [405, 980]]", `:4:31: a comma or a "]" is missing after this value; separate the values of a list with commas and close it with "]"`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130]]\n [540, 980], [405, 980]]", `:5:1: this looks like part of a list, but the list above is already closed; count the brackets on the lines above`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130]],\n [540, 980], [405, 980]]", `:4:32: "," follows a value that is complete; count the brackets, and end the line with the value`},
		{"name=\"a\"\nregion=[[412, 130], [533, 130\n", `:4:30: the list begun on line 4 is not closed; add the missing "]"`},
		{"name=\"a\"\nbox=[1,1,20,20]\nbottom = 5\ntop=3", `:5:10: bottom is 5 and top is 3; make top higher than bottom`},
		{"name=\"a\"\nbox=[99999,1,20,20]", `:4:5: box ends at 100019, 21, beyond 100000 pixels; write it as [412, 130, 120, 850]`},
	})
}

func TestTooMuchIsRefused(t *testing.T) {
	var columns strings.Builder
	for i := range maxColumns + 1 {
		fmt.Fprintf(&columns, "[[column]]\nname = \"%d\"\nband = [1, 2]\nbox = [0, 0, 100, 100]\n", i)
	}
	corners := "region = [" + strings.Repeat("[1, 1], ", maxCorners) + "[2, 2]]"
	mustBreak(t, "", "", []broken{
		{columns.String(), ":2001:1: the file has 501 columns, more than 500; leave some out"},
		{"[[column]]\nname = \"a\"\n" + corners, ":3:10: region has 2001 corners, more than 2000; leave corners out"},
		{strings.Repeat("#", maxBytes+1), ": the file is larger than 4 MiB; name a column file, which is a few kilobytes of text"},
		{"feather = " + strings.Repeat("[", 20000), ":1:10011: arrays and inline tables are nested more than the maximum of 10000 levels deep; correct it here or on the line above"},
	})
}
