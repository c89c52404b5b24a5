package shoot

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/bep/imagemeta"
)

// Exposure is what the camera wrote into a photo (EXIF 2.32). Values that it left out are zero, and ones too
// strange to be meant.
type Exposure struct {
	Seconds      float64 // exposure time
	Aperture     float64 // f-number
	ISO          int
	FocalLength  float64 // mm
	WhiteBalance string  // "auto" or "manual"
	Taken        time.Time
}

// Known is whether the camera wrote anything.
func (e Exposure) Known() bool { return e != Exposure{} }

// Shutter is the exposure time as a photographer writes it.
func (e Exposure) Shutter() string {
	switch {
	case e.Seconds == 0:
		return ""
	case e.Seconds >= 0.3:
		return fmt.Sprintf("%g s", rounded(e.Seconds, 10))
	}
	return fmt.Sprintf("1/%.0f s", 1/e.Seconds)
}

// ReadExposure reads what the camera wrote into a JPEG or PNG. What can not be read is left out.
func ReadExposure(r io.ReadSeeker) Exposure {
	var e Exposure
	magic := make([]byte, 2)
	if _, err := io.ReadFull(r, magic); err != nil {
		return e
	}
	format := imagemeta.JPEG
	if bytes.Equal(magic, []byte("\x89P")) {
		format = imagemeta.PNG
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return e
	}
	taken, zone := "", ""
	// A photo with broken EXIF is still a photo: what was read before the break counts.
	imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: format, Sources: imagemeta.EXIF, Warnf: func(string, ...any) {},
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool { return strings.HasPrefix(tag.Namespace, "IFD0") }, // not the thumbnail's
		HandleTag: func(tag imagemeta.TagInfo) error {
			switch tag.Tag {
			case "ExposureTime":
				e.Seconds = sane(tag.Value, 3600*24)
			case "FNumber":
				e.Aperture = sane(tag.Value, 1000)
			case "FocalLength":
				e.FocalLength = sane(tag.Value, 100_000)
			case "ISO", "ISOSpeedRatings", "PhotographicSensitivity":
				e.ISO = int(sane(tag.Value, 10_000_000))
			case "WhiteBalance":
				if v, ok := number(tag.Value); ok {
					e.WhiteBalance = map[float64]string{0: "auto", 1: "manual"}[v]
				}
			case "DateTimeOriginal":
				taken = text(tag.Value)
			case "OffsetTimeOriginal":
				zone = text(tag.Value)
			}
			return nil
		},
	})
	e.Taken = moment(taken, zone)
	return e
}

func text(v any) string {
	s, _ := v.(string)
	return strings.Trim(s, " \x00")
}

// number is a tag's value: a whole number, a rational or a list of one.
func number(v any) (float64, bool) {
	switch v := v.(type) {
	case uint16:
		return float64(v), true
	case uint32:
		return float64(v), true
	case int32:
		return float64(v), true
	case float64:
		return v, true
	case float32:
		return float64(v), true
	case []uint16:
		if len(v) > 0 {
			return float64(v[0]), true
		}
	case interface {
		Num() uint32
		Den() uint32
	}:
		if v.Den() != 0 {
			return float64(v.Num()) / float64(v.Den()), true
		}
	}
	return 0, false
}

func sane(v any, limit float64) float64 {
	f, ok := number(v)
	if !ok || math.IsNaN(f) || f < 0 || f > limit {
		return 0
	}
	return f
}

// moment reads EXIF's date, "2026:11:24 10:31:07", and its offset from universal time; without one the camera's clock
// is taken as it is. Fractions of a second are left out: the library that reads them loses their leading zeros.
func moment(date, zone string) time.Time {
	t, err := time.Parse("2006:01:02 15:04:05", date)
	if err != nil {
		return time.Time{}
	}
	if offset, err := time.Parse("-07:00", zone); err == nil {
		_, seconds := offset.Zone()
		t = t.Add(-time.Duration(seconds) * time.Second)
	}
	return t
}

// exposures compares what the camera wrote. It shows only in the light, sharpness and noise, which are measured:
// these are notes that tell why.
func (j *judge) exposures() {
	if len(j.Exposure) == 0 {
		return
	}
	for _, setting := range []struct {
		name, remedy string
		of           func(Exposure) string
	}{
		{"exposure time", "set the camera to manual", Exposure.Shutter},
		{"aperture", "set the camera to manual", func(e Exposure) string { return optional("f/%g", rounded(e.Aperture, 10)) }},
		{"ISO", "switch automatic ISO off", func(e Exposure) string { return optional("ISO %g", float64(e.ISO)) }},
		{"white balance", "set the white balance to a fixed value", func(e Exposure) string { return e.WhiteBalance }},
		{"focal length", "lock or tape the zoom", func(e Exposure) string { return optional("%g mm", rounded(e.FocalLength, 10)) }},
	} {
		usual := common(j.Exposure, setting.of)
		for level, e := range j.Exposure {
			if v := setting.of(e); v != "" && usual != "" && v != usual {
				j.note(j.Names[level], fmt.Sprintf("the camera wrote another %s: %s, the others have %s", setting.name, v, usual), setting.remedy)
			}
		}
	}
	if balance := common(j.Exposure, func(e Exposure) string { return e.WhiteBalance }); balance == "auto" {
		j.note(j.Names[0], "the camera chose the white balance for each photo", "set the white balance to a fixed value")
	}
	for k := 1; k < len(j.Exposure); k++ {
		before, here := j.Exposure[k-1].Taken, j.Exposure[k].Taken
		if !before.IsZero() && !here.IsZero() && here.Before(before) {
			j.note(j.Names[k], fmt.Sprintf("it was taken at %s, before %s at %s", here.Format(time.DateTime), j.Names[k-1], before.Format(time.DateTime)), "look whether the numbers follow the levels")
		}
	}
}

func optional(format string, v float64) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf(format, v)
}

// common is what most photos have, the first of equals; "" when the camera wrote it into none.
func common(list []Exposure, of func(Exposure) string) string {
	counts := make(map[string]int)
	for _, e := range list {
		if v := of(e); v != "" {
			counts[v]++
		}
	}
	best, most := "", 0
	for _, e := range list {
		if v := of(e); counts[v] > most {
			best, most = v, counts[v]
		}
	}
	return best
}
