// Package profile reads from an ICC colour profile what the mixing of light needs: the curve that relates a photo's
// codes to amounts of light, and the way from its colours to those of sRGB. Section numbers are those of ICC.1:2022.
//
// A profile whose three channels follow one curve (a matrix/TRC profile, 8.3.3: sRGB, Display P3, Adobe RGB, most
// working spaces) gives that curve. One of tables (8.3.2), of three unlike curves, or damaged gives the curve of sRGB
// and says so. The profile itself is carried into every frame elsewhere, byte for byte, whatever is understood here.
package profile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"

	"colonnade/compose/light"
)

// Profile is what is known of the photos' colours.
type Profile struct {
	// Description is the profile's name for itself, "" where it has none.
	Description string
	// Curve relates codes to light: the profile's own, or that of sRGB. It is never nil.
	Curve *light.Curve
	// OwnCurve tells that Curve differs from that of sRGB.
	OwnCurve bool
	// ToSRGB takes light in the profile's red, green and blue to light in those of sRGB: row i makes channel i.
	// Colours that sRGB does not hold come out below 0 or above 1. It is the identity where the profile is sRGB,
	// has no colorants, or there is none.
	ToSRGB [3][3]float64
	// Note says why the curve of sRGB stands in for the profile's, and what to do; "" where it does not.
	Note string
}

// Sizes and places in a profile (7.2, 7.3).
const (
	headerSize   = 128
	spaceAt      = 16
	connectionAt = 20
	signatureAt  = 36
	tagEntrySize = 12
	maxTags      = 1000 // profiles have some ten to forty; the count is not to be trusted
)

// Read reads a profile. nil, for photos that carry none, is sRGB without a note. It keeps nothing of icc.
func Read(icc []byte) *Profile {
	p := &Profile{ToSRGB: identity}
	decode, err := p.read(icc)
	if err == nil && decode != nil {
		p.Curve, err = ownCurve(decode)
		p.OwnCurve = err == nil && p.Curve != nil
	}
	if err != nil {
		p.Note = fmt.Sprintf("photos: the colour profile%s %v; light is mixed by the curve of sRGB: export the photos as sRGB, Display P3 or Adobe RGB for their own",
			quoted(p.Description), err)
	}
	if p.Curve == nil {
		p.Curve = light.SRGB()
	}
	return p
}

// InVideo says how the colours fare in a video, whose codes are taken as sRGB's; "" where they stay as they are.
func (p *Profile) InVideo() string {
	if p.ToSRGB == identity {
		return ""
	}
	return fmt.Sprintf("photos: their colour profile%s is not sRGB's; frames carry it, but in a video the colours will look other than in the photos: export the photos as sRGB",
		quoted(p.Description))
}

// read gives the curve that all channels share, nil for photos without a profile.
func (p *Profile) read(icc []byte) (curve, error) {
	if icc == nil {
		return nil, nil
	}
	if len(icc) < headerSize+4 || string(icc[signatureAt:signatureAt+4]) != "acsp" {
		return nil, fmt.Errorf("is damaged")
	}
	tags := tagTable(icc)
	p.Description = description(tags["desc"])
	channels := []string{"rTRC", "gTRC", "bTRC"}
	switch space := string(icc[spaceAt : spaceAt+4]); space {
	case "RGB ":
		p.ToSRGB = toSRGB(tags["rXYZ"], tags["gXYZ"], tags["bXYZ"])
	case "GRAY":
		channels = []string{"kTRC"}
	default:
		return nil, fmt.Errorf("is for %s, not for RGB", strings.TrimSpace(printable(space)))
	}
	if connection := string(icc[connectionAt : connectionAt+4]); connection != "XYZ " && tags[channels[0]] != nil {
		return nil, fmt.Errorf("has curves of lightness, not of light")
	}
	var first curve
	for i, name := range channels {
		tag := tags[name]
		if tag == nil {
			if tags["A2B0"] != nil || tags["A2B1"] != nil || tags["A2B2"] != nil {
				return nil, fmt.Errorf("is one of tables, which hold no single curve")
			}
			return nil, fmt.Errorf("has no curve %s", name)
		}
		c, err := readCurve(tag)
		if err != nil {
			return nil, fmt.Errorf("has a curve %s that %w", name, err)
		}
		if i == 0 {
			first = c
		} else if !alike(first, c) {
			return nil, fmt.Errorf("has another curve for each channel")
		}
	}
	return first, nil
}

// tagTable is the tags' data by signature (7.3). Of two tags of a kind the first counts.
func tagTable(icc []byte) map[string][]byte {
	count := binary.BigEndian.Uint32(icc[headerSize:])
	tags := make(map[string][]byte)
	for i := range min(count, maxTags) {
		at := headerSize + 4 + tagEntrySize*int(i)
		if at+tagEntrySize > len(icc) {
			break
		}
		entry := icc[at : at+tagEntrySize]
		from, size := uint64(binary.BigEndian.Uint32(entry[4:])), uint64(binary.BigEndian.Uint32(entry[8:]))
		name := string(entry[:4])
		if _, there := tags[name]; !there && from+size <= uint64(len(icc)) {
			tags[name] = icc[from : from+size : from+size]
		}
	}
	return tags
}

// longestDescription is as much of a description as a message takes.
const longestDescription = 60

// description reads a multiLocalizedUnicodeType (10.15), its first record, or the ASCII part of the
// textDescriptionType that version 2 of the format has in its place.
func description(tag []byte) string {
	switch {
	case len(tag) >= 28 && string(tag[:4]) == "mluc" && binary.BigEndian.Uint32(tag[8:]) > 0:
		size, from := uint64(binary.BigEndian.Uint32(tag[20:])), uint64(binary.BigEndian.Uint32(tag[24:]))
		if from+size > uint64(len(tag)) {
			return ""
		}
		text := tag[from : from+min(size, 4*longestDescription)]
		units := make([]uint16, len(text)/2)
		for i := range units {
			units[i] = binary.BigEndian.Uint16(text[2*i:])
		}
		return printable(string(utf16.Decode(units)))
	case len(tag) > 12 && string(tag[:4]) == "desc":
		text := tag[12:]
		text = text[:min(uint64(len(text)), uint64(binary.BigEndian.Uint32(tag[8:])), 4*longestDescription)]
		text, _, _ = bytes.Cut(text, []byte{0})
		return printable(string(text))
	}
	return ""
}

// printable is text without what would break a line, and not longer than a message takes.
func printable(text string) string {
	var b strings.Builder
	length := 0
	for _, r := range text {
		if length == longestDescription {
			b.WriteString("...")
			break
		}
		if unicode.IsPrint(r) && r != unicode.ReplacementChar {
			b.WriteRune(r)
			length++
		}
	}
	return strings.TrimSpace(b.String())
}

func quoted(description string) string {
	if description == "" {
		return ""
	}
	return " " + strconv.Quote(description)
}
