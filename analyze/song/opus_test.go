package song

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestOpusGivesTheTonesThatWereCoded(t *testing.T) {
	info, got := readFile(t, "tones.opus")
	want := Info{Rate: 48000, Channels: 2, Frames: 12345, Encoding: info.Encoding, Title: "Three stones"}
	if fmt.Sprintf("%+v", info) != fmt.Sprintf("%+v", want) || !strings.HasSuffix(info.Encoding, " kbit/s Opus") {
		t.Errorf("info\n got %+v\nwant %+v", info, want)
	}
	tones(t, "tones.opus", got, 48000, 12345, 20)
}

// The gain of the header is part of decoding (RFC 7845, 5.1).
func TestOpusGainIsApplied(t *testing.T) {
	file, err := os.ReadFile(filepath.Join("testdata", "tones.opus"))
	if err != nil {
		t.Fatal(err)
	}
	plain, err := readAll(mustOpen(t, file), 1000)
	if err != nil {
		t.Fatal(err)
	}
	const gainAt = 28 + 16 // in the first page
	le.PutUint16(file[gainAt:], 0x10000-1536)
	quieter, err := readAll(mustOpen(t, resummed(file)), 1000)
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range plain[0] {
		if want := float64(v) * math.Pow(10, -6.0/20); math.Abs(float64(quieter[0][k])-want) > 1e-6 {
			t.Fatalf("6 dB less than %v is %v", v, quieter[0][k])
		}
	}
}

// silentSong is a stream of n packets of 20 ms.
func silentSong(preSkip, n int) []byte {
	return opusStream(append([][]byte{opusHeader(1, preSkip, 0, 0), opusTags()}, slices.Repeat([][]byte{opusSilence}, n)...)...)
}

func TestOpusLengthIsThatOfItsPages(t *testing.T) {
	const page = 27 + 1 + 3 // of a packet of opusSilence
	whole := silentSong(312, 10)
	head := len(whole) - 10*page
	trimmed := slices.Clone(whole)
	le.PutUint64(trimmed[len(trimmed)-page+6:], 9000)
	later := slices.Clone(whole) // a recording that begins an hour after the broadcast did, at page 5000
	for i := range 10 {
		at := head + i*page
		le.PutUint64(later[at+6:], uint64(48000*3600+(i+1)*960))
		le.PutUint32(later[at+18:], uint32(5000+i))
	}
	far := slices.Clone(whole)
	le.PutUint64(far[len(far)-page+6:], 9600+4800)
	lone := slices.Concat(whole[:head], oggPage1(oggLast, 700, 0x73746f6e, 2, opusSilence))
	other := oggPage1(oggFirst, 0, 99, 0, []byte("fishead"))
	const cut = "the file is cut off: its last page does not end the stream"
	for _, c := range []struct {
		name     string
		file     []byte
		told, is int64
		notes    []string
	}{
		{"whole", whole, 9288, 9288, nil},
		{"trimmed by its last place", resummed(trimmed), 8688, 8688, nil},
		{"trimmed on its only page", lone, 388, 388, nil},
		{"part of a broadcast", resummed(later), 9288, 9288, nil},
		{"cut off between pages", whole[:len(whole)-2*page], 7368, 7368, []string{cut}},
		{"cut off within a page", whole[:len(whole)-page-3], 7368, 7368, []string{cut}},
		{"another song behind", append(slices.Clip(whole), oggPages(5, opusHeader(1, 0, 0, 0), opusTags(), opusSilence)...), 9288, 9288,
			[]string{fmt.Sprintf("another stream begins at byte %d and is not read", len(whole))}},
		{"another stream beside", slices.Concat(whole[:47], other, whole[47:head], oggPage1(0, 5, 99, 1, []byte("bones")), whole[head:]), 9288, 9288, nil},
		{"junk behind", append(slices.Clip(whole), "TAGstones"...), 9288, 9288,
			[]string{fmt.Sprintf("what follows the sound makes no page and is not read: 9 bytes from byte %d on", len(whole))}},
		{"places beyond the sound", resummed(far), 9600 + 4800 - 312, 9288, []string{"its pages tell of 14088 sample frames, 9288 are there"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := mustOpen(t, c.file)
			if got := s.Info().Frames; got != c.told {
				t.Errorf("%d sample frames are told, want %d", got, c.told)
			}
			got, err := readAll(s, 500)
			if err != nil {
				t.Fatal(err)
			}
			if int64(len(got[0])) != c.is || s.Info().Frames != c.is {
				t.Errorf("%d sample frames are read, %d told at the end, want %d", len(got[0]), s.Info().Frames, c.is)
			}
			if notes := s.Info().Notes; !slices.Equal(notes, c.notes) {
				t.Errorf("notes\n got %q\nwant %q", notes, c.notes)
			}
		})
	}
}

func TestDamageWithinAnOpusFileTellsItsPlace(t *testing.T) {
	const page = 27 + 1 + 3
	whole := silentSong(0, 10)
	at := len(whole) - 5*page
	flipped := slices.Clone(whole)
	flipped[at+29] ^= 1
	missing := slices.Concat(whole[:at], whole[at+page:])
	for what, file := range map[string][]byte{
		fmt.Sprintf("the page at byte %d does not have the checksum that it tells", at): flipped,
		fmt.Sprintf("page 7 is missing before byte %d", at):                             missing,
	} {
		got, err := readAll(mustOpen(t, file), 100)
		if want := "song: is damaged at 0.100 s: " + what + "; "; err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("\n got %v\nwant %s...", err, want)
		}
		if len(got[0]) != 4800 {
			t.Errorf("%d good samples came before, want 4800", len(got[0]))
		}
	}
	zeros := slices.Concat(whole[:at], make([]byte, page), whole[at+page:])
	want := fmt.Sprintf(`song: has "\x00\x00\x00\x00" at byte %d, where a page should begin; `, at)
	if _, err := open("song", bytes.NewReader(zeros), int64(len(zeros))); err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("\n got %v\nwant %s...", err, want)
	}
}

func TestAPacketThatIsNoneIsSilent(t *testing.T) {
	bad := []byte{0xfb, 0x40 | 3, 9} // three frames of the lengths 9 and more in no bytes
	file := opusStream(opusHeader(1, 0, 0, 0), opusTags(), opusSilence, bad, opusSilence)
	s := mustOpen(t, file)
	got, err := readAll(s, 100)
	if err != nil || len(got[0]) != 5*960 {
		t.Errorf("%d samples and %v, want %d", len(got[0]), err, 5*960)
	}
	const want = "1 packet read as silence, being damaged, the first at 0.020 s"
	if notes := s.Info().Notes; !slices.Equal(notes, []string{want}) {
		t.Errorf("the notes are %q, want %q", notes, want)
	}
}

// The values are those of RFC 6716, 3.1, table 2, in sample frames of 48 kHz.
func TestOpusDurations(t *testing.T) {
	for _, c := range []struct {
		packet []byte
		want   int64
	}{
		{nil, 0},
		{[]byte{0 << 3}, 480}, {[]byte{1 << 3}, 960}, {[]byte{2 << 3}, 1920}, {[]byte{11 << 3}, 2880},
		{[]byte{12 << 3}, 480}, {[]byte{15 << 3}, 960},
		{[]byte{16 << 3}, 120}, {[]byte{17 << 3}, 240}, {[]byte{30 << 3}, 480}, {[]byte{31 << 3}, 960},
		{[]byte{31<<3 | 1}, 1920}, {[]byte{31<<3 | 2}, 1920},
		{[]byte{31<<3 | 3}, 0}, {[]byte{31<<3 | 3, 6}, 5760}, {[]byte{31<<3 | 3, 0xc0 | 2}, 1920}, {[]byte{31<<3 | 3, 7}, 0}, {[]byte{3, 48}, 0}, {[]byte{16<<3 | 3, 48}, 5760},
	} {
		if got := opusDuration(c.packet); got != c.want {
			t.Errorf("packet %x lasts %d, want %d", c.packet, got, c.want)
		}
	}
}

func TestPacketsMayGoOverPages(t *testing.T) {
	long := append([]byte{31<<3 | 3, 1}, make([]byte, 1000)...) // one frame of 1000 bytes
	copy(long[2:], opusSilence[1:])
	first := oggPage1(0, -1, 7, 2, opusSilence)
	first[26] = 3 // three segments: a packet of 3 bytes, and 510 of the next
	first = slices.Concat(first[:27], []byte{3, 255, 255}, opusSilence, long[:510])
	le.PutUint64(first[6:], 960)
	second := oggPage1(oggContinued|oggLast, 2880, 7, 3, long[510:], opusSilence)
	file := slices.Concat(oggPages(7, opusHeader(1, 0, 0, 0)), oggPage1(0, 0, 7, 1, opusTags()), resummed(first), second)
	s := mustOpen(t, file)
	got, err := readAll(s, 100)
	if err != nil || len(got[0]) != 2880 || len(s.Info().Notes) > 0 {
		t.Errorf("%d samples, %v and the notes %q, want 2880", len(got[0]), err, s.Info().Notes)
	}
}
