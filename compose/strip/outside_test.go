package strip

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Two readers of PNG files that are not ours, pngcheck and libpng's pngfix, find nothing wrong with frames. Set
// COLONNADE_OUTSIDE=1 to run it; it needs Debian's packages pngcheck and libpng-tools.
func TestOtherReadersAcceptFrames(t *testing.T) {
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		t.Log("not held against pngcheck and pngfix: set COLONNADE_OUTSIDE=1 for that")
		return
	}
	var commands [][]string
	for _, tool := range []struct {
		pack string
		line []string
	}{{"pngcheck", []string{"pngcheck", "-q"}}, {"libpng-tools", []string{"pngfix", "--strip=none", "--quiet"}}} {
		if _, err := exec.LookPath(tool.line[0]); err != nil {
			t.Fatalf("%s is missing: install Debian's package %s", tool.line[0], tool.pack)
		}
		commands = append(commands, tool.line)
	}
	random := rand.New(rand.NewPCG(51, 52))
	folder := t.TempDir()
	for i := range 40 {
		s := randomStage(random)
		if i == 0 {
			s = photographed(300, 200, 6, 4)
		}
		c := s.coder(t, Options{})
		file := filepath.Join(folder, "frame.png")
		if err := os.WriteFile(file, s.frame(t, c, randomTuple(random, len(s.Masks), len(s.Photos))), 0o666); err != nil {
			t.Fatal(err)
		}
		for _, line := range commands {
			if out, err := exec.Command(line[0], append(line[1:], file)...).CombinedOutput(); err != nil || len(out) > 0 {
				t.Errorf("frame %d: %s finds: %s (%v)", i, line[0], out, err)
			}
		}
	}
}
