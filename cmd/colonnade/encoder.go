package main

import (
	"fmt"
	"image"
	"path/filepath"
	"runtime"
	"strings"
	"unicode"
	"unicode/utf8"

	"colonnade/analyze/timing"
	"colonnade/compose/sequence"
)

// encoding is what a command of a common free encoder needs to join frames and song.
type encoding struct {
	folder string  // of the frames; "" for a stream
	song   string  // "" for none
	begin  float64 // second of the song's file at which the first of the frames begins; below 0, silence comes first
	rate   timing.Rate
	frames span
	part   bool // the folder or the song may go on after the last of the frames
	size   image.Point
}

// encoding is how the frames that were asked for are joined with the song.
func (f *renderFlags) encoding(p *piece) encoding {
	e := encoding{
		folder: f.output, song: p.file.Song, begin: p.file.Offset/1000 + p.file.Rate.Start(p.want.first), rate: p.file.Rate, frames: p.want,
		// A level table says nothing of where the song ends.
		part: p.want.last < p.last() || f.levels != "", size: p.scene.Size(),
	}
	if f.stream != "" {
		e.folder = ""
	}
	return e
}

// line is the command, ready for a shell. What stands before -map is right for these frames and this song; what follows
// is one way of many to encode them.
func (e encoding) line() string {
	words := []string{"ffmpeg"}
	if e.folder == "" {
		words = append(words, "-i -")
	} else {
		words = append(words, "-framerate "+e.rate.String())
		if e.frames.first > 1 {
			words = append(words, fmt.Sprintf("-start_number %d", e.frames.first))
		}
		// The encoder reads a percent sign as the beginning of a number.
		folder := strings.ReplaceAll(e.folder, "%", "%%")
		words = append(words, "-i "+shellQuote(runtime.GOOS, encoderName(filepath.Join(folder, sequence.Pattern))))
	}
	if e.song != "" {
		words = append(words, e.sound())
	}
	if e.part {
		// Of the output: both streams are cut, to the nearest frame and sample. A number of frames would end the sound
		// where the encoder has the last frame, which may be before it has the sound.
		words = append(words, fmt.Sprintf("-t %.6f", e.rate.Start(e.frames.last+1)-e.rate.Start(e.frames.first)))
	}
	words = append(words, "-map 0:v")
	if e.song != "" {
		words = append(words, "-map 1:a")
	}
	return strings.Join(append(words, e.picture()), " ")
}

// sound is the words that bring the song to the first frame's beginning.
func (e encoding) sound() string {
	input := "-i " + shellQuote(runtime.GOOS, encoderName(e.song))
	switch {
	case e.begin < 0:
		return fmt.Sprintf("%s -af adelay=%.3f:all=1", input, -e.begin*1000)
	case e.begin > 0 && strings.EqualFold(filepath.Ext(e.song), ".mp3"):
		// A frame of MP3 needs those before it: after a jump into the file some 50 ms would be missing.
		return fmt.Sprintf("%s -af atrim=start=%.6f,asetpts=PTS-STARTPTS", input, e.begin)
	case e.begin > 0:
		return fmt.Sprintf("-ss %.6f %s", e.begin, input)
	}
	return input
}

// tagged says of the picture what ITU-R BT.709 video is, in the stream and in the file.
const tagged = "-color_range tv -colorspace bt709 -color_primaries bt709 -color_trc bt709"

// picture is the words for a video that plays everywhere.
func (e encoding) picture() string {
	filter := "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709"
	if e.folder != "" {
		filter = "scale=out_color_matrix=bt709:out_range=tv:flags=accurate_rnd+full_chroma_int," + filter
	}
	if e.size.X%2 != 0 || e.size.Y%2 != 0 { // 4:2:0 has one colour sample to two by two pixels
		filter = fmt.Sprintf("crop=%d:%d:0:0,", max(e.size.X&^1, 2), max(e.size.Y&^1, 2)) + filter
	}
	sound := ""
	if e.song != "" {
		sound = "-c:a aac -b:a 320k "
	}
	return "-vf " + filter + " -c:v libx264 -preset slow -crf 16 -pix_fmt yuv420p " + tagged + " " + sound + "-movflags +faststart video.mp4"
}

// encoderName is a file's name that the encoder does not take for an address: what stands before a colon would be a
// protocol.
func encoderName(name string) string {
	if strings.Contains(name, ":") && filepath.VolumeName(name) == "" {
		return "file:" + name
	}
	return name
}

// shellQuote puts a name in quotes where a shell of the system would read more than a name in it: in single ones, or on
// Windows in double ones, which no name holds there. What a terminal would act upon is written as $'...' has it (POSIX.1-2024,
// Shell Command Language, 2.2.4), so that the line can be shown and still means the same name.
func shellQuote(system, name string) string {
	if system != "windows" && oneLine(name) != name {
		return dollarQuote(name)
	}
	for _, r := range name {
		plain := r == '/' || r == '.' || r == '_' || r == '-' || r == '%' || r == ':' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !plain && system == "windows" {
			return `"` + name + `"`
		} else if !plain {
			return "'" + strings.ReplaceAll(name, "'", `'\''`) + "'"
		}
	}
	return name
}

// dollarQuote is a name in $'...', with every byte of what is not printable in octal digits.
func dollarQuote(name string) string {
	var out strings.Builder
	out.WriteString("$'")
	for i, size := 0, 0; i < len(name); i += size {
		var r rune
		r, size = utf8.DecodeRuneInString(name[i:])
		switch {
		case r == '\\' || r == '\'':
			out.WriteByte('\\')
			out.WriteRune(r)
		case unicode.IsPrint(r) && (r != utf8.RuneError || size > 1):
			out.WriteRune(r)
		default:
			for _, b := range []byte(name[i : i+size]) {
				fmt.Fprintf(&out, `\%03o`, b)
			}
		}
	}
	out.WriteByte('\'')
	return out.String()
}
