package columnfile

import (
	"math"
	"strings"
	"testing"
	"unicode"
)

// FuzzParse: whatever the text, Parse neither panics nor answers with more than one line, and what it takes
// keeps the promises of File.
func FuzzParse(f *testing.F) {
	f.Add(wholeFile, "", "")
	f.Add("response.gain = 3\n[response]\n"+wholeColumn, "size", "1x1")
	f.Add("column = [{name = 'a', box = [1, 2, 3, 4]}]", "crop", "0,0,1,1")
	f.Add("a = [[[[{b.c = 1, 'd' = 2021-01-01T00:00:00Z}, # x\n]]]]\n[a.b]\n[[x.y]]\n[x]", "feather", "1e309")
	f.Add("crop = [0, 1\n[[column]]", "fps", "24000/1001")
	f.Add("\ufeffphotos = \"\"\"\nx\"\"\"\r\n", "base", "3")
	f.Fuzz(func(t *testing.T, text, key, value string) {
		var overrides map[string]string
		if key != "" {
			overrides = map[string]string{key: value}
		}
		file, err := Parse("columns.toml", []byte(text), overrides)
		if err != nil {
			where, rest, found := strings.Cut(err.Error(), ": ")
			if !found || where == "" || rest == "" || strings.ContainsFunc(err.Error(), unicode.IsControl) {
				t.Errorf("the message is %q", err)
			}
			return
		}
		if file.Rate.Num <= 0 || file.Rate.Den <= 0 || len(file.Columns) == 0 || file.Photos == "" {
			t.Errorf("taken without what it needs: %+v", file)
		}
		numbers := append([]float64{file.Feather}, file.Crop...)
		names := map[string]bool{}
		for i, c := range file.Columns {
			if names[c.Name] || c.Name == "" {
				t.Errorf("the name %q is taken", c.Name)
			}
			names[c.Name] = true
			if !c.Band.IsEverything() {
				if !(0 < c.Band.LowHz && c.Band.LowHz < c.Band.HighHz) {
					t.Errorf("band %v", c.Band)
				}
				numbers = append(numbers, c.Band.LowHz, c.Band.HighHz)
			}
			if i, j, crossing := c.Region.Crossing(); crossing || len(c.Region) < 3 || c.Region.Area() <= 0 {
				t.Errorf("region %v is taken, edges %d and %d", c.Region, i, j)
			}
			if c.Response.Top >= 0 && c.Response.Bottom >= c.Response.Top {
				t.Errorf("levels %d to %d", c.Response.Bottom, c.Response.Top)
			}
			numbers = append(numbers, c.Feather, c.Response.Clip, c.Response.Floor,
				c.Response.Curve, c.Response.Gain, c.Response.Attack, c.Response.Release)
			for _, p := range c.Region {
				numbers = append(numbers, p.X, p.Y)
			}
			if where := file.Where(i, "region"); !strings.HasPrefix(where, "columns.toml:") {
				t.Errorf("region %d is at %s", i, where)
			}
		}
		for _, v := range numbers {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("a number is not finite: %v", numbers)
			}
		}
	})
}
