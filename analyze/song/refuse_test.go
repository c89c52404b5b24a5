package song

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// refusal is a crafted file and the one line that must be said about it.
type refusal struct {
	name string
	file []byte
	want string
}

func refusals() []refusal {
	data := chunkOf("data", pair)
	tagged := func(tag, bits int) []byte {
		return riffFile("RIFF", fmtChunk(tag, 1, 8000, bits), data)
	}
	with := func(at int, value byte) []byte { // a good fmt chunk with one byte changed
		body := fmtBody(1, 2, 44100, 16)
		body[at] = value
		return riffFile("RIFF", chunkOf("fmt ", body), data)
	}
	compressed := func(name string, tag int) string {
		return fmt.Sprintf("holds %s sound (format tag 0x%04x), only uncompressed sound is read; convert it to 16-bit WAV", name, tag)
	}
	foreign := func(what string) string {
		return "is " + what + ", only WAV, FLAC, MP3 and Opus are read; convert it to WAV or FLAC"
	}
	ogg := func(codec string) []byte { return append(append([]byte("OggS"), make([]byte, 24)...), codec...) }
	id3 := func(behind ...byte) []byte {
		return append([]byte{'I', 'D', '3', 4, 0, 0, 0, 0, 0, 2, 'x', 'y'}, behind...)
	}
	unpadded := append(chunkHeader("LIST", 5), "INFO\x00"...)
	otherGUID := append([]byte{1, 0, 0, 0}, make([]byte, 12)...)
	tiny := ramp(44100, 16, 1, 16)
	tiny.block = 1
	opusFar := oggPages(7, opusHeader(1, 0, 0, 0), opusTags(), opusSilence, opusSilence)
	le.PutUint64(opusFar[len(opusFar)-28-len(opusSilence)+6:], 1<<62)
	opusFar = resummed(opusFar)
	const again, convert = "export the song again as WAV", "convert the song again, or copy it again from where it came"
	return []refusal{
		// Codings.
		{"mu-law", tagged(7, 8), compressed("mu-law", 7)},
		{"A-law", tagged(6, 8), compressed("A-law", 6)},
		{"Microsoft ADPCM", tagged(2, 4), compressed("Microsoft ADPCM", 2)},
		{"IMA ADPCM", tagged(0x11, 4), compressed("IMA ADPCM", 0x11)},
		{"MP3 in WAV", tagged(0x55, 0), compressed("MP3", 0x55)},
		{"mu-law EXTENSIBLE", riffFile("RIFF", extensibleChunk(7, 1, 8000, 8, 8), data), compressed("mu-law", 7)},
		{"unknown tag", tagged(0x1234, 16), "holds sound of the unknown format tag 0x1234, only integers and floats are read; convert it to 16-bit WAV"},
		{"unknown sub-format", riffFile("RIFF", chunkOf("fmt ", extensibleBody(1, 8000, 16, 16, otherGUID)), data),
			"holds sound of the unknown sub-format 01000000000000000000000000000000, only integers and floats are read; convert it to 16-bit WAV"},
		{"half floats", tagged(3, 16), "holds 16-bit floats, 32 and 64 bits are read; convert it to 32-bit float WAV"},
		{"0 bits", tagged(1, 0), "holds 0-bit integers, 8 to 32 bits are read; convert it to 24-bit WAV"},
		{"4 bits", tagged(1, 4), "holds 4-bit integers, 8 to 32 bits are read; convert it to 24-bit WAV"},
		{"64-bit integers", tagged(1, 64), "holds 64-bit integers, 8 to 32 bits are read; convert it to 24-bit WAV"},
		{"0 channels", with(2, 0), "has 0 channels, 1 to 64 are read; " + again + " with one or two channels"},
		{"65 channels", with(2, 65), "has 65 channels, 1 to 64 are read; " + again + " with one or two channels"},
		{"65282 channels", with(3, 255), "has 65282 channels, 1 to 64 are read; " + again + " with one or two channels"},
		{"rate 0", riffFile("RIFF", fmtChunk(1, 1, 0, 16), data), "has a sample rate of 0 Hz, 1000 to 1000000 are read; " + again + " at 44100 or 48000 Hz"},
		{"rate 999", riffFile("RIFF", fmtChunk(1, 1, 999, 16), data), "has a sample rate of 999 Hz, 1000 to 1000000 are read; " + again + " at 44100 or 48000 Hz"},
		{"rate 1000001", riffFile("RIFF", fmtChunk(1, 1, 1000001, 16), data), "has a sample rate of 1000001 Hz, 1000 to 1000000 are read; " + again + " at 44100 or 48000 Hz"},
		{"greatest rate", riffFile("RIFF", fmtChunk(1, 1, 0xffffffff, 16), data), "has a sample rate of 4294967295 Hz, 1000 to 1000000 are read; " + again + " at 44100 or 48000 Hz"},
		{"sample frame of another length", with(12, 8), "its fmt chunk gives a sample frame 8 bytes, 2 channels of 16 bits make 4; " + again},

		// Chunks.
		{"fmt too short", riffFile("RIFF", chunkOf("fmt ", make([]byte, 14)), data), "its fmt chunk has 14 bytes, at least 16 are needed; " + again},
		{"EXTENSIBLE too short", riffFile("RIFF", chunkOf("fmt ", fmtBody(0xfffe, 1, 8000, 16)), data), "its EXTENSIBLE fmt chunk has 16 bytes, at least 40 are needed; " + again},
		{"ds64 too short", riffFile("RF64", chunkOf("ds64", make([]byte, 8)), mono16, data), "its ds64 chunk has 8 bytes, at least 28 are needed; " + again},
		{"two fmt chunks", riffFile("RIFF", mono16, mono16, data), "has a second fmt chunk at byte 36; " + again},
		{"no fmt", riffFile("RIFF", chunkOf("LIST", []byte("INFO"))), "has no fmt chunk, which tells how its sound is coded; " + again},
		{"no data", riffFile("RIFF", mono16, chunkOf("LIST", []byte("INFO"))), "has no data chunk, which holds the sound; " + again},
		{"data before fmt", riffFile("RIFF", data, mono16), "has its data chunk before its fmt chunk; " + again},
		{"nothing but the header", riffFile("RIFF"), "has no fmt chunk, which tells how its sound is coded; " + again},
		{"LIST claims 4 GB", riffFile("RIFF", chunkHeader("LIST", 0xffffffff), mono16, data), `chunk "LIST" at byte 12 claims 4294967295 bytes, the file has 36 more; ` + again},
		{"fmt claims 4 GB", riffFile("RIFF", chunkHeader("fmt ", 0xfffffffe), data), `chunk "fmt " at byte 12 claims 4294967294 bytes, the file has 12 more; ` + again},
		{"ds64 claims 4 GB", riffFile("RF64", chunkHeader("ds64", 0xffffffff), mono16, data), `chunk "ds64" at byte 12 claims 4294967295 bytes, the file has 36 more; ` + again},
		{"a chunk claims one byte too many", riffFile("RIFF", mono16, chunkHeader("LIST", 5), []byte("INFO")), `chunk "LIST" at byte 36 claims 5 bytes, the file has 4 more; ` + again},
		{"odd chunk without padding", riffFile("RIFF", unpadded, mono16, data), `chunk "LIST" at byte 12 has an odd length, 5 bytes, and no byte of padding behind it; ` + again},
		{"no name where a chunk should begin", riffFile("RIFF", mono16, make([]byte, 64)), `has "\x00\x00\x00\x00" at byte 36, where a chunk should begin; ` + again},
		{"chunks without end", riffFile("RIFF", bytes.Repeat(chunkHeader("JUNK", 0), 20_000)), "has more than 10000 chunks before its sound; " + again},
		{"empty song", riffFile("RIFF", mono16, chunkHeader("data", 0)), "holds no sample frame; " + again},
		{"empty song with a chunk behind", riffFile("RIFF", mono16, chunkHeader("data", 0), chunkOf("LIST", []byte("INFO"))), "holds no sample frame; " + again},
		{"less than a sample frame", riffFile("RIFF", fmtChunk(1, 2, 44100, 16), chunkOf("data", []byte{1, 2})), "holds no sample frame; " + again},

		// Other files.
		{"empty file", nil, "the file is empty; export or copy the song again"},
		{"cut off within RIFF", []byte("RIFF\x00\x00"), "ends within its header, after 6 bytes; export or copy the song again"},
		{"RIFX", riffFile("RIFX", mono16, data), foreign("a big-endian RIFX file")},
		{"AVI", []byte("RIFF\x00\x00\x00\x00AVI LIST"), foreign("an AVI film")},
		{"WebP", []byte("RIFF\x00\x00\x00\x00WEBPVP8 "), `is a RIFF file of the kind "WEBP", not "WAVE"; name a WAV file or convert the song to WAV`},
		{"Wave64", []byte("riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb"), foreign("a Sony Wave64 file")},
		{"a FLAC header cut off", []byte("fLaC\x00\x00\x00\x22"), "ends within its header, after 8 bytes; " + convert},
		{"a FLAC header cut off behind an ID3 tag", id3([]byte("fLaC")...), "ends within its header, after 16 bytes; " + convert},
		{"FLAC without STREAMINFO", append([]byte("fLaC\x04\x00\x00\x08"), make([]byte, 8)...), "does not begin with a STREAMINFO block; " + convert},
		{"FLAC of 32 bits", flacFile(ramp(44100, 32, 1, 16)), "holds samples of 32 bits, FLAC is read up to 24; convert it to 24-bit FLAC or to WAV"},
		{"FLAC of 999 Hz", flacFile(ramp(999, 16, 1, 16)), "has a sample rate of 999 Hz, 1000 to 1000000 are read; convert it to 44100 or 48000 Hz"},
		{"FLAC of one sample a block", flacFile(tiny), "has a damaged header (meta.Block.parseStreamInfo: invalid minimum block size (1); expected >= 16); " + convert},
		{"FLAC without sound", flacFile(flacSong{rate: 44100, bits: 16, block: 16, pcm: make([][]int32, 1)}), "holds no sample frame; " + convert},
		{"FLAC of blocks without end", append(flacFile(ramp(44100, 16, 1, 16))[:42:42], bytes.Repeat([]byte{1, 0, 0, 0}, 20_000)...), "has more than 10000 blocks before its sound; " + convert},
		{"FLAC with a block that claims 16 MB", append(flacFile(ramp(44100, 16, 1, 16))[:42:42], 4, 0xff, 0xff, 0xff), "ends within its header, after 46 bytes; " + convert},
		{"one MP3 frame header", []byte{0xff, 0xfb, 0x90, 0x64, 0}, "holds no MP3 frame where the sound should begin; " + convert},
		{"one MP3 frame header behind an ID3 tag", id3(0xff, 0xfb, 0x90, 0x64), "holds no MP3 frame where the sound should begin; " + convert},
		{"an ID3 tag and zeros", id3(make([]byte, 200_000)...), "holds no MP3 frame where the sound should begin; " + convert},
		{"nothing but an ID3 tag", id3(), "holds no MP3 frame where the sound should begin; " + convert},
		{"MP3 of free format", mp3Frames(3, 0xff, 0xfb, 0x00, 0x64), "is an MP3 file of free format, which has no bit rate; convert it to WAV or FLAC"},
		{"MP3 of MPEG-2.5", mp3Frames(3, 0xff, 0xe3, 0x40, 0x64), "is an MP3 file of 11025 Hz, 16000 Hz and more are read; convert it to WAV or FLAC"},
		{"MP3 of 22.05 kHz with a frame too full", mp3Full(), "is an MP3 file of 22050 Hz whose frame at byte 523 needs 502 bytes of main data, there is room for 501; convert it to WAV or FLAC"},
		{"MP3 with a tag and no sound", mp3Info(1, 576, 0), "holds no sample frame; " + convert},
		{"MP3 all of whose samples are padding", append(mp3Info(2, 1105, 2000), mp3Frames(2)...), "holds no sample frame; " + convert},
		{"MP3 that changes its rate", append(mp3Frames(4), mp3Frames(4, 0xff, 0xfb, 0x94, 0x64)...), "changes from 44100 to 48000 Hz at byte 1668; convert it to WAV or FLAC"},
		{"MP2", []byte{0xff, 0xfd, 0x90, 0x64}, foreign("an MP2 file")},
		{"WAV behind an ID3 tag", id3(riffFile("RIFF", mono16, data)...), "is a WAV file behind an ID3 tag of 12 bytes; remove the tag or convert it to WAV"},
		{"AAC", []byte{0xff, 0xf1, 0x50, 0x80}, foreign("an AAC file")},
		{"an Opus header cut off", ogg("OpusHead")[:30], foreign("an Ogg file")},
		{"an Opus header without a sum", ogg("OpusHead"), "has a damaged header: the page at byte 0 does not have the checksum that it tells; " + convert},
		{"Opus behind an ID3 tag", id3(ogg("OpusHead")...), "is an Ogg file behind an ID3 tag of 12 bytes; remove the tag or convert it to WAV"},
		{"Opus of six channels", opusStream(opusHeader(6, 0, 0, 1)), "holds Opus sound of 6 channels (mapping family 1), one or two are read; convert it to WAV or FLAC"},
		{"Opus of no channel", opusStream(opusHeader(0, 0, 0, 0)), "holds Opus sound of 0 channels (mapping family 0), one or two are read; convert it to WAV or FLAC"},
		{"Opus of two streams", opusStream(append(opusHeader(2, 0, 0, 1), 2, 0, 0, 1)), "holds Opus sound of more than one stream; convert it to WAV or FLAC"},
		{"Opus of another version", opusStream(append([]byte("OpusHead\x10"), make([]byte, 10)...)), "is Opus of version 16, 0 to 15 are read; convert it to WAV or FLAC"},
		{"Opus with a short header", opusStream([]byte("OpusHead\x01")), "has a header of 9 bytes, at least 19 are needed; " + convert},
		{"Opus without comments", opusStream(opusHeader(1, 0, 0, 0), []byte("OpusTogs")), "has no comment header behind its first; " + convert},
		{"Opus without sound", opusStream(opusHeader(1, 0, 0, 0), opusTags()), "holds no sample frame; " + convert},
		{"Opus all of whose samples come before the song", opusStream(opusHeader(1, 960, 0, 0), opusTags(), opusSilence), "holds no sample frame; " + convert},
		{"Opus that claims more than it can hold", opusFar, "tells of 4611686018427387904 sample frames, which 159 bytes cannot hold; " + convert},
		{"Ogg FLAC", ogg("\x7fFLAC"), foreign("an Ogg FLAC file")},
		{"Vorbis", ogg("\x01vorbis"), foreign("an Ogg Vorbis file")},
		{"other Ogg", ogg("fishead\x00"), foreign("an Ogg file")},
		{"cut off Ogg", []byte("OggS"), foreign("an Ogg file")},
		{"M4A", []byte("\x00\x00\x00\x1cftypM4A \x00\x00\x02\x00"), foreign("an M4A file")},
		{"MP4", []byte("\x00\x00\x00\x1cftypisom\x00\x00\x02\x00"), foreign("an MP4 file")},
		{"AIFF", []byte("FORM\x00\x00\x00\x00AIFFCOMM"), foreign("an AIFF file")},
		{"MIDI", []byte("MThd\x00\x00\x00\x06"), foreign("a MIDI file, which holds notes and no sound")},
		{"UTF-16 text", []byte("\xff\xfeh\x00e\x00"), `is no song, it begins with "\xff\xfeh\x00"; name a WAV, FLAC, MP3 or Opus file`},
		{"one byte", []byte("R"), `is no song, it begins with "R"; name a WAV, FLAC, MP3 or Opus file`},
		{"escape sequences", []byte("\x1b[2J\x1b[H"), `is no song, it begins with "\x1b[2J"; name a WAV, FLAC, MP3 or Opus file`},
	}
}

func TestBadFilesAreRefusedInOneLine(t *testing.T) {
	for _, c := range refusals() {
		t.Run(c.name, func(t *testing.T) {
			s, err := open("song.wav", bytes.NewReader(c.file), int64(len(c.file)))
			if err == nil {
				t.Fatalf("taken for %+v, want: %s", s.Info(), c.want)
			}
			if want := "song.wav: " + c.want; err.Error() != want {
				t.Errorf("\n got %s\nwant %s", err, want)
			}
		})
	}
}

func TestNoClaimCostsMemory(t *testing.T) {
	const most = 1 << 20 // a block of samples and what is around it
	for _, c := range refusals() {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		open("song.wav", bytes.NewReader(c.file), int64(len(c.file)))
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > most {
			t.Errorf("%s: opening took %d bytes of memory, at most %d are expected", c.name, got, most)
		}
	}
}

func TestOpenTellsTheFormatByContent(t *testing.T) {
	folder := t.TempDir()
	wav := filepath.Join(folder, "song.flac")
	write(t, wav, riffFile("RIFF", mono16, chunkOf("data", pair)))
	s, err := Open(wav)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Info().Encoding; got != "16-bit integer" {
		t.Errorf("a WAV file named song.flac is read as %s", got)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	flac := filepath.Join(folder, "song.wav")
	write(t, flac, []byte("fLaC\x00\x00\x00\x22"))
	if _, err := Open(flac); err == nil || err.Error() != flac+": ends within its header, after 8 bytes; convert the song again, or copy it again from where it came" {
		t.Errorf("a FLAC file named song.wav gives %v", err)
	}
}

func TestOpenRefusesWhatIsNoFile(t *testing.T) {
	folder := t.TempDir()
	missing := filepath.Join(folder, "song.wav")
	for path, want := range map[string]string{
		folder:     folder + ": is a folder, a song is one file; name the song in it",
		missing:    missing + ": no such file or directory; check the path of the song",
		"":         `"": no such file or directory; check the path of the song`,
		os.DevNull: os.DevNull + ": is not a regular file, so its length cannot be known; save the song to a file first",
	} {
		_, err := Open(path)
		if err == nil || err.Error() != want {
			t.Errorf("%q\n got %v\nwant %s", path, err, want)
		}
	}
	if _, err := Open(missing); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the error for a missing file is no fs.ErrNotExist: %v", err)
	}
}

// A test may run as a user who may read all, so that the error is made here.
func TestUnreadableFileTellsWhatToDo(t *testing.T) {
	err := unopened("song.wav", &fs.PathError{Op: "open", Path: "song.wav", Err: fs.ErrPermission})
	if want := "song.wav: permission denied; make the song readable for this user"; err.Error() != want {
		t.Errorf("\n got %v\nwant %s", err, want)
	}
}

func TestNamesCannotActOnATerminal(t *testing.T) {
	for path, want := range map[string]string{
		"a song's \"best\" take.wav": "a song's \"best\" take.wav",
		"Übung – ünï 歌.wav":          "Übung – ünï 歌.wav",
		"red\x1b[31m.wav":            `"red\x1b[31m.wav"`,
		"two\nlines.wav":             `"two\nlines.wav"`,
		"c1 \u009b31m.wav":           `"c1 \u009b31m.wav"`,
		"raw c1 \x9b31m.wav":         `"raw c1 \x9b31m.wav"`,
		"turned \u202evaw.wav":       `"turned \u202evaw.wav"`,
		"line \u2028 two.wav":        `"line \u2028 two.wav"`,
	} {
		if got := printable(path); got != want {
			t.Errorf("%q is shown as %s, want %s", path, got, want)
		}
		_, err := Open(filepath.Join(t.TempDir(), path))
		if err == nil || strings.ContainsAny(err.Error(), "\x1b\n\u009b\u202e\u2028") || strings.Contains(err.Error(), "\x9b31m") {
			t.Errorf("%q: the error is not safe to print: %q", path, err)
		}
	}
}

func TestReadWantsASliceForEachChannel(t *testing.T) {
	file := riffFile("RIFF", fmtChunk(1, 2, 44100, 16), chunkOf("data", make([]byte, 8)))
	s, err := open("song.wav", bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	const want = "song.wav: asked to read 1 channel, the song has 2; pass a slice for each channel"
	if n, err := s.Read(make([][]float32, 1)); n != 0 || err == nil || err.Error() != want {
		t.Errorf("%d, %v\nwant 0, %s", n, err, want)
	}
	if n, err := s.Read([][]float32{make([]float32, 4), {}}); n != 0 || err != nil {
		t.Errorf("reading into no space gives %d, %v, want 0, <nil>", n, err)
	}
	if n, err := s.Read([][]float32{make([]float32, 4), make([]float32, 1)}); n != 1 || err != nil {
		t.Errorf("reading into 4 and 1 samples gives %d, %v, want 1, <nil>", n, err)
	}
}

func TestReadFailsAfterClose(t *testing.T) {
	path := filepath.Join(t.TempDir(), "song.wav")
	write(t, path, riffFile("RIFF", mono16, chunkOf("data", pair)))
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	if n, err := s.Read([][]float32{make([]float32, 2)}); n != 0 || !errors.Is(err, os.ErrClosed) || strings.Count(err.Error(), path) != 1 {
		t.Errorf("reading a closed song gives %d, %v; want 0, an os.ErrClosed that names the file once", n, err)
	}
}

// failing is a file that has an unreadable place, or with err io.EOF a file that was cut off after it was opened.
type failing struct {
	file []byte
	at   int64
	err  error
}

func (f failing) ReadAt(p []byte, at int64) (int, error) {
	n := copy(p, f.file[min(at, f.at):f.at])
	if n < len(p) {
		return n, f.err
	}
	return n, nil
}

func TestReadTellsWhereTheFileFailed(t *testing.T) {
	for _, coded := range [][2]int{{1, 16}, {3, 32}} { // the library's way and our own
		size := coded[1] / 8
		file := riffFile("RIFF", fmtChunk(coded[0], 1, 44100, coded[1]), chunkOf("data", make([]byte, 3*blockSamples*size)))
		at := int64(44 + blockSamples*size + 100)
		for _, c := range []struct {
			err  error
			want string
		}{
			{io.EOF, fmt.Sprintf("song.wav: got shorter while it was read and now ends at byte %d; let the program that writes it finish first", at)},
			{&fs.PathError{Op: "read", Path: "song.wav", Err: errors.New("input/output error")},
				fmt.Sprintf("song.wav: cannot be read at byte %d: input/output error; check the disk or copy the song again", at)},
		} {
			s, err := open("song.wav", failing{file, at, c.err}, int64(len(file)))
			if err != nil {
				t.Fatal(err)
			}
			got, err := readAll(s, 1000)
			if err == nil || err.Error() != c.want {
				t.Errorf("\n got %v\nwant %s", err, c.want)
			}
			if len(got[0]) != blockSamples {
				t.Errorf("%d sample frames came before the failure, want %d", len(got[0]), blockSamples)
			}
			if n, again := s.Read([][]float32{make([]float32, 1)}); n != 0 || again == nil || again.Error() != c.want {
				t.Errorf("the next read gives %d, %v", n, again)
			}
		}
	}
}

func write(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
}
