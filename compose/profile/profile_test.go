package profile

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"

	"colonnade/compose/light"
)

func lightOf(p *Profile, code int) float64 { return float64(p.Curve.Linear[code]) / light.One }

func TestPhotosWithoutAProfileAreSRGB(t *testing.T) {
	p := Read(nil)
	if *p.Curve != *light.SRGB() || p.OwnCurve || p.Note != "" || p.ToSRGB != identity {
		t.Errorf("%q, own curve %v, %v", p.Note, p.OwnCurve, p.ToSRGB)
	}
}

// Photos that say they are sRGB, in any of the ways that profiles do, and photos in Display P3, which has the curve of
// sRGB (SMPTE EG 432-1 primaries with IEC 61966-2-1's curve), must give the bytes that photos without a profile give.
func TestSRGBCurveGivesTheTableOfSRGB(t *testing.T) {
	for name, icc := range map[string][]byte{
		"sRGB, parametric":        rgb("sRGB", srgbCurve, srgbColorants),
		"Display P3":              rgb("Display P3", srgbCurve, p3Colorants),
		"sRGB, five parameters":   rgb("sRGB", para(4, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045, 0, 0), srgbColorants),
		"sRGB, 1024 samples":      rgb("sRGB", sampled(1024, light.DecodeSRGB), srgbColorants),
		"sRGB, 4096 samples":      rgb("sRGB", sampled(4096, light.DecodeSRGB), srgbColorants),
		"sRGB, the draft's joint": rgb("sRGB", para(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.03928), srgbColorants),
	} {
		p := Read(icc)
		if p.OwnCurve || p.Note != "" || *p.Curve != *light.SRGB() {
			t.Errorf("%s: own curve %v, note %q", name, p.OwnCurve, p.Note)
		}
	}
}

// Each kind of curve against its formula in ICC.1:2022, 10.6 and 10.18, written out beside it.
func TestCurvesDecodeByTheirFormulas(t *testing.T) {
	for _, c := range []struct {
		name    string
		curve   []byte
		formula func(float64) float64
	}{
		{"Adobe RGB, 563/256", adobeCurve, func(x float64) float64 { return math.Pow(x, 563./256) }},
		{"straight", curv(), func(x float64) float64 { return x }},
		{"straight, parametric", para(0, 1), func(x float64) float64 { return x }},
		{"function 0", para(0, 1.8), func(x float64) float64 { return math.Pow(x, 117965./65536) }}, // 1.8 in 65536ths
		{"function 1", para(1, 2, 0.75, 0.25), func(x float64) float64 { return (0.75*x + 0.25) * (0.75*x + 0.25) }},
		{"function 2", para(2, 2, 0.75, 0.125, 0.125), func(x float64) float64 { return min((0.75*x+0.125)*(0.75*x+0.125)+0.125, 1) }},
		{"function 3", para(3, 2, 0.75, 0.25, 0.5, 0.125), func(x float64) float64 {
			if x >= 0.125 {
				return (0.75*x + 0.25) * (0.75*x + 0.25)
			}
			return x / 2
		}},
		{"function 4", para(4, 2, 0.75, 0.125, 0.25, 0.25, 0.125, 0.0625), func(x float64) float64 {
			if x >= 0.25 {
				return (0.75*x+0.125)*(0.75*x+0.125) + 0.125
			}
			return x/4 + 0.0625
		}},
		// IEC 61966-2-1 is not far from it; ITU-R BT.709's is its inverse camera curve.
		{"BT.709", para(3, 1/0.45, 1/1.099, 0.099/1.099, 1/4.5, 0.081), func(x float64) float64 {
			if x >= 0.081 {
				return math.Pow((x+0.099)/1.099, 1/0.45)
			}
			return x / 4.5
		}},
		{"three samples", curv(0, 16384, 65535), func(x float64) float64 {
			if x < 0.5 {
				return 2 * x * 16384 / 65535
			}
			return (16384 + (2*x-1)*(65535-16384)) / 65535
		}},
	} {
		p := Read(rgb(c.name, c.curve, srgbColorants))
		if p.Note != "" || !p.OwnCurve || p.Description != c.name {
			t.Errorf("%s: own curve %v, note %q, description %q", c.name, p.OwnCurve, p.Note, p.Description)
			continue
		}
		for code := range 256 {
			// Parameters in 65536ths and, in light, 2^-24.
			if got, want := lightOf(p, code), c.formula(float64(code)/255); math.Abs(got-want) > 1e-5 {
				t.Errorf("%s: code %d is %.6f, the formula says %.6f", c.name, code, got, want)
				break
			}
		}
	}
}

// Adobe RGB (1998) Color Image Encoding, 4.3.4.2: the power of 2.19921875. Values computed from it in Python.
func TestAdobeRGBValues(t *testing.T) {
	p := Read(rgb("Adobe RGB (1998)", adobeCurve, adobeColorants))
	for code, want := range map[int]float64{0: 0, 1: 0.0000050991, 64: 0.0478274, 128: 0.2196380, 188: 0.5115196, 255: 1} {
		if got := lightOf(p, code); math.Abs(got-want) > 1e-7 {
			t.Errorf("code %d is %.7f, want %.7f", code, got, want)
		}
	}
	for code := range 256 {
		if got := p.Curve.Code(p.Curve.Linear[code]); int(got) != code {
			t.Errorf("code %d comes back as %d", code, got)
		}
	}
}

func TestColoursComeIntoSRGB(t *testing.T) {
	for _, c := range []struct {
		name      string
		colorants [3][3]float64
		want      [3][3]float64
	}{
		{"sRGB", srgbColorants, identity},
		{"sRGB, rounded otherwise", [3][3]float64{{0.4361, 0.3851, 0.1431}, {0.2225, 0.7169, 0.0606}, {0.0139, 0.0971, 0.7141}}, identity},
		// CSS Color 4, sample code, Display P3 to linear sRGB. From memory.
		{"Display P3", p3Colorants, [3][3]float64{{1.2249, -0.2249, 0}, {-0.0421, 1.0421, 0}, {-0.0196, -0.0786, 1.0982}}},
		// The same of Adobe RGB: green and blue of sRGB lie on its edges. From memory.
		{"Adobe RGB", adobeColorants, [3][3]float64{{1.3984, -0.3984, 0}, {0, 1, 0}, {0, -0.0429, 1.0429}}},
		{"nonsense", [3][3]float64{{30000, 0, 0}, {0, 30000, 0}, {0, 0, 30000}}, identity},
	} {
		p := Read(rgb(c.name, srgbCurve, c.colorants))
		for i, row := range c.want {
			for j, want := range row {
				if got := p.ToSRGB[i][j]; math.Abs(got-want) > 0.001 {
					t.Errorf("%s: row %d, column %d is %.4f, want %.4f", c.name, i, j, got, want)
				}
			}
		}
	}
}

func TestColoursThatAVideoWouldChangeAreToldOf(t *testing.T) {
	want := `photos: their colour profile "Display P3" is not sRGB's; frames carry it, but in a video the colours will look other than in the photos: export the photos as sRGB`
	if got := Read(rgb("Display P3", srgbCurve, p3Colorants)).InVideo(); got != want {
		t.Errorf("Display P3: %q, want %q", got, want)
	}
	if got := Read(rgb("Adobe RGB (1998)", adobeCurve, adobeColorants)).InVideo(); !strings.Contains(got, "Adobe RGB (1998)") {
		t.Errorf("Adobe RGB: %q", got)
	}
	for name, icc := range map[string][]byte{"none": nil, "sRGB": rgb("sRGB", srgbCurve, srgbColorants)} {
		if got := Read(icc).InVideo(); got != "" {
			t.Errorf("%s: %q, want nothing", name, got)
		}
	}
}

func TestWhatGivesNoCurveSaysSoAndMixesAsSRGB(t *testing.T) {
	table := tag{"A2B0", head("mft2")}
	named := tag{"desc", text("Stage camera")}
	curves := []tag{{"rTRC", adobeCurve}, {"gTRC", adobeCurve}, {"bTRC", adobeCurve}}
	lightness := build("GRAY", tag{"kTRC", curv()})
	copy(lightness[connectionAt:], "Lab ")
	flat := make([]uint16, 256)
	for i := range flat {
		flat[i] = uint16(max(0, i-3) * 260)
	}
	valid := rgb("Adobe RGB (1998)", adobeCurve, adobeColorants)
	cut := bytes.Clone(valid)
	binary.BigEndian.PutUint32(cut[headerSize+4+3*tagEntrySize+8:], 13)
	beyond := bytes.Clone(valid)
	binary.BigEndian.PutUint32(beyond[headerSize+4+3*tagEntrySize+4:], 0xfffffff0)
	for _, c := range []struct {
		name string
		icc  []byte
		want string
	}{
		{"tables", build("RGB ", named, table), `photos: the colour profile "Stage camera" is one of tables, which hold no single curve; light is mixed by the curve of sRGB: export the photos as sRGB, Display P3 or Adobe RGB for their own`},
		{"three curves", build("RGB ", named, curves[0], tag{"gTRC", curv(550)}, curves[2]), `"Stage camera" has another curve for each channel;`},
		{"no curve", build("RGB ", named), `has no curve rTRC;`},
		{"a curve too few", build("RGB ", curves[:2]...), `the colour profile has no curve bTRC;`},
		{"print", build("CMYK", named), `is for CMYK, not for RGB;`},
		{"lightness", lightness, `has curves of lightness, not of light;`},
		{"flat darks", rgb("dark", curv(flat...), srgbColorants), `has a curve that does not rise from code 0 to the next;`},
		{"falling", rgb("falling", curv(65535, 0), srgbColorants), `does not rise`},
		{"no light", rgb("none", para(0, 40), srgbColorants), `does not rise`},
		{"another kind", rgb("k", append(head("zzzz"), 0, 0, 0, 0), srgbColorants), `has a curve rTRC that is of the unknown kind "zzzz";`},
		{"another function", rgb("k", para(5, 1, 1, 1, 1, 1, 1, 1), srgbColorants), `that is of the unknown function 5;`},
		{"parameters missing", rgb("k", para(3, 1, 1), srgbColorants), `rTRC that is cut off;`},
		{"samples missing", rgb("k", append(curv()[:8], 255, 255, 255, 255), srgbColorants), `rTRC that is cut off;`},
		{"a tag cut", cut, `rTRC that is cut off;`},
		{"a tag beyond the end", beyond, `has no curve rTRC;`},
		{"a word", []byte("colour profile"), `photos: the colour profile is damaged;`},
		{"empty", []byte{}, `the colour profile is damaged;`},
		{"no signature", make([]byte, 400), `is damaged;`},
	} {
		p := Read(c.icc)
		if !strings.Contains(p.Note, c.want) || strings.ContainsAny(p.Note, "\n\r") {
			t.Errorf("%s: note\n%s\nnot one that says\n%s", c.name, p.Note, c.want)
		}
		if p.OwnCurve || *p.Curve != *light.SRGB() {
			t.Errorf("%s: not mixed by the curve of sRGB", c.name)
		}
	}
}

func TestCurvesBesideTablesAreUsed(t *testing.T) {
	p := Read(build("RGB ", tag{"A2B0", head("mft2")}, tag{"rTRC", adobeCurve}, tag{"gTRC", adobeCurve}, tag{"bTRC", adobeCurve}))
	if p.Note != "" || !p.OwnCurve {
		t.Errorf("note %q, own curve %v", p.Note, p.OwnCurve)
	}
}

func TestGreyProfilesGiveTheirCurve(t *testing.T) {
	p := Read(build("GRAY", tag{"kTRC", adobeCurve}))
	if p.Note != "" || math.Abs(lightOf(p, 128)-0.219638) > 1e-6 || p.ToSRGB != identity {
		t.Errorf("note %q, code 128 is %f", p.Note, lightOf(p, 128))
	}
}

func TestDescriptionsAreReadAndKeptShort(t *testing.T) {
	for _, c := range []struct {
		data []byte
		want string
	}{
		{mluc("Höhenlicht 5 mm"), "Höhenlicht 5 mm"},
		{text("plain"), "plain"},
		{mluc("two\nlines\x00 and\x1b[31m more"), "twolines and[31m more"},
		{mluc(strings.Repeat("x", 500)), strings.Repeat("x", 60) + "..."},
		{text(strings.Repeat("y", 500)), strings.Repeat("y", 60) + "..."},
		{mluc("")[:20], ""},
		{head("desc"), ""},
		{mluc("cut off")[:30], ""},
		{nil, ""},
	} {
		if got := Read(build("RGB ", tag{"desc", c.data})).Description; got != c.want {
			t.Errorf("description %q, want %q", got, c.want)
		}
	}
}

func FuzzProfile(f *testing.F) {
	for _, icc := range [][]byte{
		rgb("Display P3", srgbCurve, p3Colorants), rgb("Adobe RGB (1998)", adobeCurve, adobeColorants),
		rgb("sampled", sampled(64, light.DecodeSRGB), srgbColorants), build("RGB ", tag{"desc", text("old")}, tag{"A2B0", head("mft2")}),
		build("GRAY", tag{"kTRC", para(4, 2, 0.75, 0.125, 0.25, 0.25, 0.125, 0.0625)}), rgb("1", para(1, 2, 0.75, 0.25), p3Colorants),
	} {
		f.Add(icc)
	}
	f.Fuzz(func(t *testing.T, icc []byte) {
		p := Read(icc)
		for code := range 256 {
			if got := p.Curve.Code(p.Curve.Linear[code]); int(got) != code || p.Curve.Linear[code] > light.One {
				t.Fatalf("code %d, light %d, comes back as %d", code, p.Curve.Linear[code], got)
			}
		}
		if p.OwnCurve && p.Note != "" || strings.ContainsAny(p.Note+p.Description, "\r\n\x00") || len(p.Note) > 600 {
			t.Fatalf("own curve %v, note %q", p.OwnCurve, p.Note)
		}
		for _, row := range p.ToSRGB {
			if sum := row[0] + row[1] + row[2]; !(math.Abs(sum-1) <= 2*sameWhite) {
				t.Fatalf("white is not white: %v", p.ToSRGB)
			}
		}
	})
}
