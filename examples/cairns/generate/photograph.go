package main

import (
	"bufio"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
)

// photograph turns light into a photo: a lens that is a little soft, glows a
// little round what is bright and darkens towards the corners, a sensor with
// noise of its own in every photo, and a film-like tone curve.
type photograph struct {
	glow *plate // of the empty stage, so that it is the same in every photo
}

const (
	softness     = 0.55  // standard deviation of the lens's blur, photo pixels
	glowReach    = 42.0  // of the glow
	glowStrength = 0.035 // share of the light that goes into the glow
	vignette     = 0.30  // light lost in the corners
	exposure     = 0.78
	shotNoise    = 0.014  // standard deviation at full exposure
	readNoise    = 0.0011 // standard deviation in the dark
	jpegQuality  = 90
)

func newPhotograph(stage *plate) *photograph {
	scale := float64(stage.width) / photoWidth
	return &photograph{blurred(stage, glowReach*scale)}
}

// develop makes the photo numbered level.
func (g *photograph) develop(light *plate, level int) *image.RGBA {
	scale := float64(light.width) / photoWidth
	soft := blurred(light, softness*scale)
	picture := image.NewRGBA(image.Rect(0, 0, light.width, light.height))
	inParallel(light.height, func(row int) {
		for column := 0; column < light.width; column++ {
			at := row*light.width + column
			colour := mixColour(soft.pixels[at], g.glow.pixels[at], glowStrength)
			x := (float64(column)+0.5)/float64(light.width)*2 - 1
			y := (float64(row)+0.5)/float64(light.height)*2 - 1
			colour = colour.times(exposure * (1 - vignette*(x*x+y*y)*(x*x+y*y)/4))
			chance := scramble(scramble(uint64(level)+seed) ^ uint64(at))
			colour = noisy(colour, chance)
			picture.SetRGBA(column, row, color.RGBA{toneOf(colour.x), toneOf(colour.y), toneOf(colour.z), 255})
		}
	})
	return picture
}

// noisy adds shot noise, which grows as the root of the light, and read noise.
func noisy(colour vector, chance uint64) vector {
	channel := func(light float64) float64 {
		// The sum of four even chances is close enough to a bell.
		bell := -2.0
		for i := 0; i < 4; i++ {
			chance = scramble(chance)
			bell += share(chance)
		}
		bell *= math.Sqrt(3)
		return light + bell*math.Sqrt(shotNoise*shotNoise*max(0, light)+readNoise*readNoise)
	}
	return vector{channel(colour.x), channel(colour.y), channel(colour.z)}
}

// toneOf is the 8-bit value of a light: a shoulder that lets highlights roll
// off, the curve of sRGB (IEC 61966-2-1), and a touch more contrast.
func toneOf(light float64) uint8 {
	light = max(0, light)
	const white = 2.2 // the light that becomes white
	light = min(1, (1-decay(light))/(1-decay(white)))
	value := 12.92 * light
	if light > 0.0031308 {
		value = 1.055*power(light, 1/2.4) - 0.055
	}
	value = mix(value, value*value*(3-2*value), 0.5)
	return uint8(clamp(value*255+0.5, 0, 255))
}

// blurred is the plate after a Gaussian blur; beyond its edges the edge goes on.
func blurred(p *plate, deviation float64) *plate {
	reach := int(math.Ceil(3 * deviation))
	weights := make([]float64, reach+1)
	total := 0.0
	for i := range weights {
		far := float64(i) / deviation
		weights[i] = decay(far * far / 2)
		total += weights[i]
		if i > 0 {
			total += weights[i]
		}
	}
	pass := func(from *plate, stepX, stepY int) *plate {
		to := newPlate(from.width, from.height)
		inParallel(from.height, func(row int) {
			for column := 0; column < from.width; column++ {
				sum := vector{}
				for i := -reach; i <= reach; i++ {
					x := min(max(column+i*stepX, 0), from.width-1)
					y := min(max(row+i*stepY, 0), from.height-1)
					sum = sum.plus(from.pixels[y*from.width+x].times(weights[max(i, -i)]))
				}
				to.pixels[row*from.width+column] = sum.times(1 / total)
			}
		})
		return to
	}
	return pass(pass(p, 1, 0), 0, 1)
}

// saveJPEG writes the picture under its name once it is whole.
func saveJPEG(name string, picture image.Image, quality int) error {
	return saveWhole(name, func(out *bufio.Writer) error {
		return jpeg.Encode(out, picture, &jpeg.Options{Quality: quality})
	})
}

// saveWhole writes a file beside its name and gives it the name at the end.
func saveWhole(name string, write func(*bufio.Writer) error) error {
	file, err := os.Create(name + ".tmp")
	if err != nil {
		return err
	}
	out := bufio.NewWriter(file)
	err = write(out)
	if err == nil {
		err = out.Flush()
	}
	if closing := file.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(name+".tmp", name)
	}
	if err != nil {
		os.Remove(name + ".tmp")
	}
	return err
}
