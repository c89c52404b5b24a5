package stream

import (
	"bytes"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"colonnade/analyze/levels"
	"colonnade/compose/picture"
)

// A decoder that is not ours reads the stream. Set COLONNADE_OUTSIDE=1 to run it; it needs Debian's package
// ffmpeg (5.1 was tried).
func TestAnotherDecoderReadsTheStream(t *testing.T) {
	if os.Getenv("COLONNADE_OUTSIDE") != "1" {
		t.Log("not held against ffmpeg: set COLONNADE_OUTSIDE=1 for that")
		return
	}
	for _, c := range []struct {
		chroma    int
		scene     *scene
		convert   string   // what the converter has to be told: 0 is left, 128 midway
		tolerance int      // of 255: what the rounding of three samples, and of what lies between them, comes to
		border    int      // of pixels not compared
		format    []string // as the decoder tells it
	}{
		{444, randomScene(rand.New(rand.NewPCG(3, 5)), 66, 50, 3, 4), "", 2, 0, []string{"pix_fmt=yuv444p"}},
		// Chroma at half the pixels gives back colours that rise evenly, but for the border, beyond which there
		// is nothing to see how they rise.
		{420, evenScene(20, 50), "in_h_chr_pos=0:in_v_chr_pos=128:", 3, 2, []string{"pix_fmt=yuv420p", "chroma_location=left"}},
	} {
		width, height := c.scene.Base.Width, c.scene.Base.Height
		t.Run(fmt.Sprint(c.chroma), func(t *testing.T) {
			stream, err := New(c.scene.source(), Options{RateNum: 30000, RateDen: 1001, Chroma: c.chroma})
			if err != nil {
				t.Fatal(err)
			}
			video := bytes.NewBufferString(stream.Header())
			var want []*picture.Picture
			for _, level := range []levels.Level{0, 2000, 750, 750, 1000} {
				tuple := make([]levels.Level, len(c.scene.Masks))
				for i := range tuple {
					tuple[i] = (level + levels.Level(i)*levels.One) % (2 * levels.One)
				}
				if err := stream.Write(video, tuple); err != nil {
					t.Fatal(err)
				}
				p := picture.New(c.scene.Base.Width, c.scene.Base.Height)
				c.scene.Compose(p, tuple)
				want = append(want, p)
			}

			told := outside(t, video.Bytes(), "ffprobe", "-v", "error", "-f", "yuv4mpegpipe", "-count_frames", "-show_streams", "-i", "-")
			for _, line := range append(c.format, "color_range=tv", "r_frame_rate=30000/1001", "sample_aspect_ratio=1:1", "field_order=progressive",
				fmt.Sprintf("width=%d", width), fmt.Sprintf("height=%d", height), fmt.Sprintf("nb_read_frames=%d", len(want))) {
				if !slices.Contains(strings.Split(string(told), "\n"), line) {
					t.Errorf("ffprobe does not tell %s but\n%s", line, told)
				}
			}

			got := outside(t, video.Bytes(), "ffmpeg", "-v", "error", "-f", "yuv4mpegpipe", "-i", "-",
				"-vf", "scale=in_color_matrix=bt709:in_range=tv:out_range=pc:"+c.convert+"flags=bilinear+accurate_rnd+full_chroma_int+full_chroma_inp",
				"-f", "rawvideo", "-pix_fmt", "rgb24", "-")
			size := len(want[0].Pix)
			if len(got) != size*len(want) {
				t.Fatalf("ffmpeg gives back %d bytes; %d frames have %d", len(got), len(want), size*len(want))
			}
			worst := 0
			for n, p := range want {
				for i, code := range p.Pix {
					if (image.Point{X: i / 3 % width, Y: i / 3 / width}).In(image.Rect(0, 0, width, height).Inset(c.border)) {
						off := int(got[n*size+i]) - int(code)
						worst = max(worst, off, -off)
					}
				}
			}
			if worst > c.tolerance {
				t.Errorf("ffmpeg gives back pictures that are off by %d of 255; want %d or less", worst, c.tolerance)
			}
		})
	}
}

// evenScene is a picture whose colour rises by 12 of 255 a pixel across and falls by 4 down, with no columns. A
// chroma sample half a pixel off its place puts the red off by 5.
func evenScene(width, height int) *scene {
	s := randomScene(rand.New(rand.NewPCG(2, 2)), width, height, 2, 0)
	for y := range height {
		for x := range width {
			c := s.Base.Row(y)[3*x:]
			c[0], c[1], c[2] = uint8(12*x), 120, uint8(240-4*y)
		}
	}
	return s
}

// outside runs one of ffmpeg's programs on input and is what it writes.
func outside(t *testing.T, input []byte, program string, arguments ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		t.Fatalf("%s: is not there; install Debian's package ffmpeg: %v", program, err)
	}
	command := exec.Command(path, arguments...)
	command.Stdin = bytes.NewReader(input)
	var words bytes.Buffer
	command.Stderr = &words
	out, err := command.Output()
	if err != nil || words.Len() > 0 {
		t.Fatalf("%s: %v\n%s", program, err, &words)
	}
	return out
}
