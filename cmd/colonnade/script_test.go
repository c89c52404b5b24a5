package main

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"colonnade/compose/pngfile"
)

func TestMain(m *testing.M) {
	// Tests remember no songs, nor do the programs they start; a script, whose environment is its own, says otherwise.
	if filepath.Base(os.Args[0]) != "colonnade" {
		os.Setenv("COLONNADE_CACHE", "off")
	}
	testscript.Main(m, map[string]func(){"colonnade": main})
}

// TestScripts runs each file of testdata/script: commands as a user types them and what they must say and leave.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			env.Setenv("XDG_CACHE_HOME", filepath.Join(env.WorkDir, "remembered"))
			return makePiece(env.WorkDir)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status":     checkStatus,
			"oneline":    checkOneLine,
			"sameframes": checkSameFrames,
			"pixel":      checkPixel,
			"replace":    replaceText,
			"damage":     damageByte,
			"spoil":      spoilPicture,
			"silence":    writeSilence,
		},
	})
}

// Every script begins with a piece of its own: photos/photo-0.png to photo-3.png of a stage with two stacks,
// a song of two seconds in which a low and a high tone take turns, and columns.toml.
const (
	stageWidth, stageHeight = 64, 48
	songRate                = 8000
)

func makePiece(folder string) error {
	if err := os.Mkdir(filepath.Join(folder, "photos"), 0o755); err != nil {
		return err
	}
	for level := range 4 {
		if err := writePNG(filepath.Join(folder, "photos", fmt.Sprintf("photo-%d.png", level)), stage(level)); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(folder, "song.wav"), twoTones(2*songRate), 0o644); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(folder, "beats.wav"), fiveBeats(2*songRate), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, "columns.toml"), []byte(`song = "song.wav"
fps = 10
feather = 1

[[column]]
name = "low"
band = [100, 300]
box = [8, 6, 16, 40]

[[column]]
name = "high"
band = [1000, 3000]
box = [40, 6, 16, 40]
`), 0o644)
}

// stage is a grey ramp with two stacks of bright blocks, level blocks high.
func stage(level int) image.Image {
	img := image.NewNRGBA(image.Rect(0, 0, stageWidth, stageHeight))
	for y := range stageHeight {
		for x := range stageWidth {
			v := uint8(40 + x + y)
			c := color.NRGBA{v, v, v, 255}
			if (x >= 12 && x < 20 || x >= 44 && x < 52) && y >= 42-10*level && y < 42 {
				c = color.NRGBA{240, uint8(200 - 10*(y/10)), 90, 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

func writePNG(path string, img image.Image) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := png.Encode(file, img); err != nil {
		return err
	}
	return file.Close()
}

// twoTones is 200 Hz in the first half of each half second, 2 kHz in the second, growing.
func twoTones(samples int) []byte {
	tones := make([]float64, samples)
	for i := range tones {
		t := float64(i) / songRate
		hertz := 200.0
		if math.Mod(t, 0.5) >= 0.25 {
			hertz = 2000
		}
		tones[i] = 0.8 * t / 2 * math.Sin(2*math.Pi*hertz*t)
	}
	return wavOf(tones)
}

// fiveBeats is a tone of 400 Hz that comes and goes five times a second.
func fiveBeats(samples int) []byte {
	tones := make([]float64, samples)
	for i := range tones {
		if t := float64(i) / songRate; math.Mod(t, 0.2) < 0.1 {
			tones[i] = 0.8 * math.Sin(2*math.Pi*400*t)
		}
	}
	return wavOf(tones)
}

// wavOf is a mono 16-bit WAV.
func wavOf(samples []float64) []byte {
	data := []byte("RIFF\x00\x00\x00\x00WAVEfmt ")
	data = binary.LittleEndian.AppendUint32(data, 16)
	data = binary.LittleEndian.AppendUint16(data, 1)
	data = binary.LittleEndian.AppendUint16(data, 1)
	data = binary.LittleEndian.AppendUint32(data, songRate)
	data = binary.LittleEndian.AppendUint32(data, songRate*2)
	data = binary.LittleEndian.AppendUint16(data, 2)
	data = binary.LittleEndian.AppendUint16(data, 16)
	data = append(data, "data"...)
	data = binary.LittleEndian.AppendUint32(data, uint32(2*len(samples)))
	for _, v := range samples {
		data = binary.LittleEndian.AppendUint16(data, uint16(int16(v*32767)))
	}
	binary.LittleEndian.PutUint32(data[4:], uint32(len(data)-8))
	return data
}

// status N colonnade ...: runs the program and checks its exit status.
func checkStatus(ts *testscript.TestScript, _ bool, args []string) {
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	if err != nil {
		text := err.Error()
		if _, number, ok := strings.Cut(text, "exit status "); ok {
			got, _ = strconv.Atoi(number)
		} else {
			ts.Fatalf("%v", err)
		}
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

// silence FILE: a song of a second that holds no sound.
func writeSilence(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), wavOf(make([]float64, songRate)), 0o644))
}

// oneline: standard error of the last command is one line that begins with the program's name.
func checkOneLine(ts *testscript.TestScript, _ bool, _ []string) {
	text := ts.ReadFile("stderr")
	if !strings.HasPrefix(text, "colonnade: ") || strings.Count(text, "\n") != 1 {
		ts.Fatalf("not one line of the program's: %q", text)
	}
}

// sameframes A B: both folders hold the same frames, byte for byte.
func checkSameFrames(ts *testscript.TestScript, _ bool, args []string) {
	a, _ := filepath.Glob(ts.MkAbs(filepath.Join(args[0], "frame_*.png")))
	b, _ := filepath.Glob(ts.MkAbs(filepath.Join(args[1], "frame_*.png")))
	if len(a) == 0 || len(a) != len(b) {
		ts.Fatalf("%d frames in %s, %d in %s", len(a), args[0], len(b), args[1])
	}
	for i := range a {
		if filepath.Base(a[i]) != filepath.Base(b[i]) || ts.ReadFile(a[i]) != ts.ReadFile(b[i]) {
			ts.Fatalf("%s differs from %s", a[i], b[i])
		}
	}
}

// pixel FRAME X Y R,G,B: the frame shows that colour there.
func checkPixel(ts *testscript.TestScript, _ bool, args []string) {
	img, err := png.Decode(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	x, _ := strconv.Atoi(args[1])
	y, _ := strconv.Atoi(args[2])
	r, g, b, _ := img.At(x, y).RGBA()
	if got := fmt.Sprintf("%d,%d,%d", r>>8, g>>8, b>>8); got != args[3] {
		ts.Fatalf("%s at (%d, %d) is %s, want %s", args[0], x, y, got, args[3])
	}
}

// replace FILE OLD NEW: changes a text file.
func replaceText(ts *testscript.TestScript, _ bool, args []string) {
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.ReplaceAll(text, args[1], args[2])), 0o644))
}

// damage FILE: flips a bit in the middle of a frame's picture data.
func damageByte(ts *testscript.TestScript, _ bool, args []string) {
	data := []byte(ts.ReadFile(args[0]))
	if !strings.HasPrefix(string(data), pngfile.Signature) {
		ts.Fatalf("%s is not a PNG", args[0])
	}
	data[len(data)*3/4] ^= 4
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

// spoil FILE: flips a bit at the end of a PNG photo's picture data, and gives the chunk a check that fits: only decoding tells.
func spoilPicture(ts *testscript.TestScript, _ bool, args []string) {
	data := []byte(ts.ReadFile(args[0]))
	at := strings.LastIndex(string(data), "IDAT")
	if at < 0 {
		ts.Fatalf("%s is not a PNG", args[0])
	}
	end := at + 4 + int(binary.BigEndian.Uint32(data[at-4:]))
	data[end-1] ^= 4
	binary.BigEndian.PutUint32(data[end:], crc32.ChecksumIEEE(data[at:end]))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}
