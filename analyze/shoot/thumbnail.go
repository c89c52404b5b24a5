package shoot

import "image"

// thumbnailWidth is how wide the small picture of a photo may be.
const thumbnailWidth = 480

// thumbnail is a small picture of a photo as it is.
func thumbnail(c codes, width, height int) *image.NRGBA {
	factor := max((width+thumbnailWidth-1)/thumbnailWidth, 1)
	out := image.NewNRGBA(image.Rect(0, 0, max(width/factor, 1), max(height/factor, 1)))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			p := out.Pix[y*out.Stride+4*x:]
			for channel := range 3 {
				sum := 0
				for j := range factor {
					for i := range factor {
						sum += int(c[channel][clamp(y*factor+j, height)*width+clamp(x*factor+i, width)])
					}
				}
				p[channel] = uint8(sum / (factor * factor * codeUnit))
			}
			p[3] = 255
		}
	}
	return out
}

// Thumbnail is a small picture of the photo as it is.
func (s *Shot) Thumbnail() *image.NRGBA { return s.thumbnail }
