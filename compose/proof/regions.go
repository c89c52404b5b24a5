package proof

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/jpeg"
	"io"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"colonnade/compose/light"
	"colonnade/compose/photos"
	"colonnade/compose/picture"
	"colonnade/masks"
)

// Region is a column's place in the photo, and where the column file speaks of it.
type Region struct {
	Name    string
	Corners masks.Region   // in pixels of the photo
	Feather float64        // in pixels of the photo
	Line    int            // of its [[column]], from 1
	Keys    map[string]int // lines of its name, and of its region, or the box that stands for it
}

// RegionsPage is a page on which regions are set by hand over the photos.
type RegionsPage struct {
	Title    string
	Set      *photos.Set
	Regions  []Region
	Feather  float64 // of a column that has none of its own
	FileName string  // of the column file
	FileText string
}

const (
	// levelWidth is how wide the photos below the fullest one are on the page: enough to see what moves.
	levelWidth = 1600
	// fullestBytes is what the fullest photo may take, in which corners are set to the pixel.
	fullestBytes   = 5_000_000
	regionsQuality = 85
)

// regionsContent is the page's data. Photos are JPEG as base64, by level.
type regionsContent struct {
	Width    int          `json:"width"`
	Height   int          `json:"height"`
	Photos   []string     `json:"photos"`
	Feather  float64      `json:"feather"`
	Columns  []pageRegion `json:"columns"`
	FileName string       `json:"fileName"`
	FileText string       `json:"fileText"`
}

type pageRegion struct {
	Name    string         `json:"name"`
	Corners [][2]float64   `json:"corners"`
	Feather float64        `json:"feather"`
	Line    int            `json:"line"`
	Keys    map[string]int `json:"keys"`
}

// Write decodes the photos and writes the page. The errors are those of the photos and of w.
func (p *RegionsPage) Write(w io.Writer) error {
	c := &regionsContent{Width: p.Set.Size.X, Height: p.Set.Size.Y, Feather: p.Feather, Columns: []pageRegion{}, FileName: p.FileName, FileText: p.FileText}
	for _, region := range p.Regions {
		out := pageRegion{Name: region.Name, Feather: region.Feather, Line: region.Line, Keys: region.Keys}
		for _, corner := range region.Corners {
			out.Corners = append(out.Corners, [2]float64{corner.X, corner.Y})
		}
		c.Columns = append(c.Columns, out)
	}
	c.Photos = make([]string, len(p.Set.Photos))
	failed := make([]error, len(c.Photos))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for level, photo := range p.Set.Photos {
		group.Go(func() error {
			c.Photos[level], failed[level] = levelPhoto(photo, level == p.Set.Top())
			return nil
		})
	}
	group.Wait()
	for _, err := range failed { // the first in level order, whichever worker met one first
		if err != nil {
			return err
		}
	}
	return writePage(w, "regions.html", p.Title, "regions.css", regionScripts, c)
}

// levelPhoto is a photo as the page carries it.
func levelPhoto(photo *photos.Photo, fullest bool) (string, error) {
	pixels, err := photo.Decode()
	if err != nil {
		return "", err
	}
	width := min(levelWidth, photo.Size.X)
	if fullest {
		width = photo.Size.X
	}
	for {
		height := max(1, int(math.Round(float64(width)*float64(photo.Size.Y)/float64(photo.Size.X))))
		view := photos.View{Width: float64(photo.Size.X), Height: float64(photo.Size.Y), Size: image.Pt(width, height)}
		var coded bytes.Buffer
		if err := jpeg.Encode(&coded, rgba(picture.Whole(view.Apply(pixels, light.SRGB()))), &jpeg.Options{Quality: regionsQuality}); err != nil {
			return "", err
		}
		if coded.Len() <= fullestBytes || width <= levelWidth {
			return base64.StdEncoding.EncodeToString(coded.Bytes()), nil
		}
		width = max(levelWidth, width*3/4)
	}
}
