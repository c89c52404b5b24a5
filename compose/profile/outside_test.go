package profile

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Curves against another reader of profiles, Little CMS, and on profiles that others made. Set COLONNADE_OUTSIDE=1 to
// run it; it needs Debian's packages liblcms2-utils and colord-data (2.14 and 1.4.6 were tried).
func TestAnotherReaderOfProfilesSeesTheSameLight(t *testing.T) {
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		t.Log("not held against Little CMS: set COLONNADE_OUTSIDE=1 for that")
		return
	}
	files, err := filepath.Glob("/usr/share/color/icc/colord/*.icc")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d profiles found, %v; install Debian's package colord-data", len(files), err)
	}
	for name, c := range map[string][]byte{
		"P3": srgbCurve, "Adobe": adobeCurve, "straight": curv(), "0": para(0, 1.8), "1": para(1, 2, 0.75, 0.25),
		"3": para(3, 2, 0.75, 0.25, 0.5, 0.125), "4": para(4, 2, 0.75, 0.125, 0.25, 0.25, 0.125, 0.0625), "samples": curv(0, 16384, 65535),
	} {
		path := filepath.Join(t.TempDir(), name+".icc")
		if err := os.WriteFile(path, rgb(name, c, srgbColorants), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	var greys strings.Builder
	for code := range 256 {
		fmt.Fprintln(&greys, code, code, code)
	}
	read, worst := 0, 0.0
	for _, path := range files {
		icc, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		p := Read(icc)
		if p.Note != "" {
			t.Logf("%s: %s", filepath.Base(path), p.Note)
			continue
		}
		// A grey's Y, of 100, is its light, as white's is 1 in the profile connection space.
		command := exec.Command("transicc", "-t1", "-n", "-i"+path, "-o*XYZ")
		command.Stdin = strings.NewReader(greys.String())
		out, err := command.Output()
		if err != nil {
			t.Fatalf("transicc: %v; install Debian's package liblcms2-utils", err)
		}
		lines := bytes.NewReader(out)
		for code := range 256 {
			var x, y, z float64
			if _, err := fmt.Fscan(lines, &x, &y, &z); err != nil {
				t.Fatalf("%s: code %d: %v", path, code, err)
			}
			off := math.Abs(lightOf(p, code) - y/100)
			worst = max(worst, off)
			// Samples and parameters of 16 bits; a curve taken for that of sRGB may be a twentieth of a code off.
			if off > 0.0002 {
				t.Errorf("%s: code %d is %.5f, Little CMS says %.5f", filepath.Base(path), code, lightOf(p, code), y/100)
				break
			}
		}
		read++
	}
	t.Logf("%d profiles read, light differs by %.6f at most", read, worst)
	if read < 25 {
		t.Errorf("%d profiles read, want 25 at the least", read)
	}
}
