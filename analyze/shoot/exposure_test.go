package shoot

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"strings"
	"testing"
	"time"
)

// exif is a JPEG with EXIF in it, built field by field (TIFF 6.0, EXIF 2.32): an IFD that points to the EXIF IFD.
func exif(t *testing.T, exposure [2]uint32, aperture [2]uint32, iso, balance uint16, focal [2]uint32, taken, zone string) []byte {
	t.Helper()
	order := binary.LittleEndian
	type field struct {
		tag, kind uint16
		count     uint32
		data      []byte
	}
	rational := func(v [2]uint32) []byte { return order.AppendUint32(order.AppendUint32(nil, v[0]), v[1]) }
	short := func(v uint16) []byte { return order.AppendUint16(order.AppendUint16(nil, v), 0) }
	ascii := func(tag uint16, text string) field {
		return field{tag, 2, uint32(len(text) + 1), append([]byte(text), 0)}
	}
	fields := []field{{0x829a, 5, 1, rational(exposure)}, {0x829d, 5, 1, rational(aperture)}, {0x8827, 3, 1, short(iso)},
		ascii(0x9003, taken), ascii(0x9011, zone), {0x920a, 5, 1, rational(focal)}, {0xa403, 3, 1, short(balance)}}
	tiff := []byte("II*\x00\x08\x00\x00\x00")
	tiff = order.AppendUint16(tiff, 1)
	tiff = order.AppendUint16(tiff, 0x8769)
	tiff = order.AppendUint16(tiff, 4)
	tiff = order.AppendUint32(tiff, 1)
	tiff = order.AppendUint32(tiff, 26)
	tiff = order.AppendUint32(tiff, 0)
	tiff = order.AppendUint16(tiff, uint16(len(fields)))
	after := len(tiff) + 12*len(fields) + 4
	var more []byte
	for _, f := range fields {
		tiff = order.AppendUint16(tiff, f.tag)
		tiff = order.AppendUint16(tiff, f.kind)
		tiff = order.AppendUint32(tiff, f.count)
		if len(f.data) <= 4 {
			tiff = append(tiff, append(f.data, 0, 0, 0)[:4]...)
			continue
		}
		tiff = order.AppendUint32(tiff, uint32(after+len(more)))
		more = append(more, f.data...)
	}
	tiff = append(order.AppendUint32(tiff, 0), more...)
	var plain bytes.Buffer
	if err := jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	body := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte("\xff\xd8\xff\xe1"), byte((len(body)+2)>>8), byte(len(body)+2))
	return append(append(out, body...), plain.Bytes()[2:]...)
}

func TestExposureIsReadFromAPhoto(t *testing.T) {
	data := exif(t, [2]uint32{1, 60}, [2]uint32{28, 5}, 400, 1, [2]uint32{50, 1}, "2026:03:01 12:30:05", "+02:00")
	e := ReadExposure(bytes.NewReader(data))
	want := Exposure{Seconds: 1.0 / 60, Aperture: 5.6, ISO: 400, FocalLength: 50, WhiteBalance: "manual", Taken: time.Date(2026, 3, 1, 10, 30, 5, 0, time.UTC)}
	if fmt.Sprint(e) != fmt.Sprint(want) {
		t.Errorf("%+v, want %+v", e, want)
	}
	if e.Shutter() != "1/60 s" || (Exposure{Seconds: 2.5}).Shutter() != "2.5 s" || (Exposure{}).Shutter() != "" {
		t.Errorf("shutters %q", e.Shutter())
	}
}

// No EXIF, nothing at all, a rational over zero and half a file: the photo says nothing, and that is no error.
func TestExposureThatIsNotThereIsNothing(t *testing.T) {
	data := exif(t, [2]uint32{1, 0}, [2]uint32{0, 0}, 0, 7, [2]uint32{4000000000, 1}, "0000:00:00 00:00:00", "x")
	for name, data := range map[string][]byte{"empty": nil, "one byte": {0xff}, "strange values": data, "no photo": []byte("GIF89a and more of it"), "PNG": []byte("\x89PNG\r\n\x1a\n")} {
		if e := ReadExposure(bytes.NewReader(data)); e.Known() {
			t.Errorf("%s: %+v", name, e)
		}
	}
	for cut := range len(data) { // no panic
		ReadExposure(bytes.NewReader(data[:cut]))
	}
}

func TestExposuresThatDifferAreNoted(t *testing.T) {
	at := func(seconds int) time.Time { return time.Date(2026, 3, 1, 12, 0, seconds, 0, time.UTC) }
	usual := Exposure{Seconds: 1.0 / 50, Aperture: 8, ISO: 100, FocalLength: 50, WhiteBalance: "manual"}
	list := []Exposure{usual, usual, usual, usual}
	for i := range list {
		list[i].Taken = at(i)
	}
	list[1].ISO, list[2].Taken, list[3].Seconds = 200, at(0), 1.0/60
	j := &judge{Set: Set{Names: []string{"p0", "p1", "p2", "p3"}, Exposure: list}, report: &Report{}}
	j.exposures()
	var said []string
	for _, n := range j.report.Notes {
		said = append(said, n.String())
	}
	got := strings.Join(said, "\n")
	for _, want := range []string{"p3: the camera wrote another exposure time: 1/60 s, the others have 1/50 s", "p1: the camera wrote another ISO: ISO 200, the others have ISO 100", "p2: it was taken at 2026-03-01 12:00:00, before p1 at"} {
		if !strings.Contains(got, want) {
			t.Errorf("not noted: %s in\n%s", want, got)
		}
	}
	if len(said) != 3 || len(j.report.Faults) != 0 {
		t.Errorf("%d notes, %d faults:\n%s", len(said), len(j.report.Faults), got)
	}
	for i := range list {
		list[i] = usual
		list[i].WhiteBalance = "auto"
	}
	j.report = &Report{}
	if j.exposures(); len(j.report.Notes) != 1 || !strings.Contains(j.report.Notes[0].String(), "white balance") {
		t.Errorf("automatic white balance: %v", j.report.Notes)
	}
}
