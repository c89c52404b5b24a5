package masks

import (
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func box(x, y, width, height float64) Region {
	return Region{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}
}

// phi is the Gaussian distribution function, the exact response of a step to a Gaussian blur.
func phi(x float64) float64 { return (1 + math.Erf(x/math.Sqrt2)) / 2 }

func value(m *Mask, x, y int) float64 { return float64(m.At(x, y)) / Full }

const tolerance = 1.0 / 255

// Closed form: a step blurred by a Gaussian is (1+erf(x/(sigma sqrt 2)))/2. The tabled points are those of the
// normal distribution (0.158655 at -1, 0.308538 at -1/2, 0.977250 at 2), computed here.
func TestStraightEdgeReadsTheErrorFunction(t *testing.T) {
	photo := image.Rect(0, 0, 400, 300)
	for _, sigma := range []float64{0.5, 1, 1.9, 2, 3.3, 8, 12, 30} {
		m := Feathered(box(150, -20, 1000, 400), sigma, photo, photo)
		for x := range 400 {
			distance := float64(x) + 0.5 - 150
			want, limit := phi(distance/sigma), tolerance
			if got := value(m, x, 150); math.Abs(got-want) > limit {
				t.Errorf("sigma %g: pixel %d, %g inside: %.5f, want %.5f", sigma, x, distance, got, want)
			}
		}
	}
}

func TestEdgeBetweenPixelsAndAtASlantReadsTheErrorFunction(t *testing.T) {
	photo := image.Rect(0, 0, 300, 300)
	const sigma = 4.0
	for _, angle := range []float64{0.1, 0.4, math.Pi / 4, 1.2} {
		nx, ny := math.Cos(angle), math.Sin(angle) // inward normal of an edge through (140.3, 150.7)
		tx, ty := -ny, nx
		at := func(along, in float64) Point { return Point{140.3 + along*tx + in*nx, 150.7 + along*ty + in*ny} }
		m := Feathered(Region{at(-600, 0), at(600, 0), at(600, 600), at(-600, 600)}, sigma, photo, photo)
		for y := 100; y < 200; y += 7 {
			for x := 100; x < 200; x++ {
				distance := (float64(x)+0.5-140.3)*nx + (float64(y)+0.5-150.7)*ny
				if got, want := value(m, x, y), phi(distance/sigma); math.Abs(got-want) > tolerance {
					t.Fatalf("angle %.1f: (%d, %d), %g inside: %.5f, want %.5f", angle, x, y, distance, got, want)
				}
			}
		}
	}
}

// Closed form: a quarter plane is 1/4 at its corner.
func TestCornerReadsAQuarter(t *testing.T) {
	photo := image.Rect(0, 0, 200, 200)
	for _, sigma := range []float64{2, 5, 12} {
		m := Feathered(box(100.5, 100.5, 500, 500), sigma, photo, photo)
		if got := value(m, 100, 100); math.Abs(got-0.25) > tolerance {
			t.Errorf("sigma %g: %.5f, want 0.25", sigma, got)
		}
	}
}

// Closed form: the centre of a disc of radius R is 1-exp(-R²/2sigma²); .864665 at R = 2 sigma.
func TestCentreOfADisc(t *testing.T) {
	photo := image.Rect(0, 0, 201, 201)
	for _, c := range []struct{ radius, sigma, want float64 }{{20, 10, 0.864665}, {30, 10, 0.988891}, {12, 6, 0.864665}} {
		var disc Region
		for i := range 720 {
			a := float64(i) * math.Pi / 360
			disc = append(disc, Point{100.5 + c.radius*math.Cos(a), 100.5 + c.radius*math.Sin(a)})
		}
		if got := value(Feathered(disc, c.sigma, photo, photo), 100, 100); math.Abs(got-c.want) > tolerance {
			t.Errorf("radius %g, sigma %g: %.5f, want %.5f", c.radius, c.sigma, got, c.want)
		}
	}
}

func TestRegionAtTheBorderStaysWholeThere(t *testing.T) {
	photo := image.Rect(0, 0, 120, 90)
	m := Feathered(box(0, 0, 60, 90), 10, photo, photo)
	for _, p := range []image.Point{{0, 0}, {0, 89}, {10, 45}} {
		if m.At(p.X, p.Y) != Full {
			t.Errorf("%v reads %d, want %d", p, m.At(p.X, p.Y), Full)
		}
	}
	if inside := Feathered(box(0, 1, 60, 88), 10, photo, photo).At(0, 45); inside != Full {
		t.Errorf("left border away from the corners reads %d", inside)
	}
	if gap := value(Feathered(box(1, 1, 60, 88), 10, photo, photo), 0, 45); gap > phi(0) {
		t.Errorf("a region that ends before the border reads %.3f there, as if it went on", gap)
	}
}

func TestMassIsKept(t *testing.T) {
	photo := image.Rect(0, 0, 300, 300)
	region := Region{{100, 90}, {190.25, 110.5}, {170, 200.75}, {120, 180}}
	for _, sigma := range []float64{0, 0.7, 3, 9} {
		sum := 0.0
		for _, v := range Feathered(region, sigma, photo, photo).Alpha {
			sum += float64(v) / Full
		}
		if want := region.Area(); math.Abs(sum-want) > want*2e-4 {
			t.Errorf("sigma %g: mass %.3f, area %.3f", sigma, sum, want)
		}
	}
}

// A Gaussian of 3 followed by one of 4 is one of 5: checked on an edge by the closed form of both.
func TestWidthOfTheEdge(t *testing.T) {
	photo := image.Rect(0, 0, 400, 100)
	m := Feathered(box(200, -100, 500, 400), 20, photo, photo)
	at := func(share float64) float64 {
		for x := range 399 {
			a, b := value(m, x, 50), value(m, x+1, 50)
			if a <= share && share < b {
				return float64(x) + (share-a)/(b-a)
			}
		}
		return math.NaN()
	}
	// 10 to 90 % is 2.563103 standard deviations of a normal distribution.
	if got := (at(0.9) - at(0.1)) / 20; math.Abs(got-2.563103) > 0.01 {
		t.Errorf("10 to 90 %% takes %.4f sigma", got)
	}
}

// slow computes a mask by its definition: coverage from many points a pixel, and a full two-dimensional sum.
func slow(region Region, sigma float64, photo image.Rectangle) []float64 {
	const points = 48
	width, height := photo.Dx(), photo.Dy()
	cover := make([]float64, width*height)
	for y := range height {
		for x := range width {
			inside := 0
			for j := range points {
				for i := range points {
					if contains(region, float64(x)+(float64(i)+0.5)/points, float64(y)+(float64(j)+0.5)/points) {
						inside++
					}
				}
			}
			cover[y*width+x] = float64(inside) / points / points
		}
	}
	radius := int(math.Ceil(6 * sigma))
	weight := func(d int) float64 {
		if sigma == 0 {
			return 1
		}
		if sigma < integratedBelow {
			return phi((float64(d)+0.5)/sigma) - phi((float64(d)-0.5)/sigma)
		}
		return math.Exp(-float64(d*d) / (2 * sigma * sigma))
	}
	out := make([]float64, len(cover))
	for y := range height {
		for x := range width {
			sum, total := 0.0, 0.0
			for j := -radius; j <= radius; j++ {
				for i := -radius; i <= radius; i++ {
					w := weight(i) * weight(j)
					total += w
					sum += w * cover[min(max(y+j, 0), height-1)*width+min(max(x+i, 0), width-1)]
				}
			}
			out[y*width+x] = sum / total
		}
	}
	return out
}

func contains(region Region, x, y float64) bool {
	inside := false
	for i, a := range region {
		b := region[(i+1)%len(region)]
		if (a.Y > y) != (b.Y > y) && x < a.X+(y-a.Y)*(b.X-a.X)/(b.Y-a.Y) {
			inside = !inside
		}
	}
	return inside
}

// The quick way, by accumulated edges and a separated whole-number kernel, against the definition.
func TestMaskEqualsItsDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 12 {
		width, height := 8+random.IntN(30), 8+random.IntN(30)
		photo := image.Rect(0, 0, width, height)
		var region Region // a star-shaped polygon, so that it does not cross itself, often beyond the borders
		cx, cy := random.Float64()*float64(width), random.Float64()*float64(height)
		corners := 3 + random.IntN(6)
		for i := range corners {
			a := 2 * math.Pi * (float64(i) + 0.8*random.Float64()) / float64(corners)
			r := 2 + random.Float64()*float64(width)*0.7
			region = append(region, Point{cx + r*math.Cos(a), cy + r*math.Sin(a)})
		}
		sigma := []float64{0, 0.6, 1.5, 2, 3.5}[random.IntN(5)]
		m := Feathered(region, sigma, photo, photo)
		for i, want := range slow(region, sigma, photo) {
			if got := value(m, i%width, i/width); math.Abs(got-want) > 0.004 {
				t.Fatalf("%v sigma %g in %v: pixel (%d, %d) is %.5f, want %.5f", region, sigma, photo, i%width, i/width, got, want)
			}
		}
	}
}

// Lines that are like their neighbours are copied, and few that differ are summed by their differences. The slow twin makes
// each line by itself and sums all taps.
func TestLevelAndUprightSidesAreBlurredLikeAnyOther(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		width, height := 8+random.IntN(60), 8+random.IntN(60)
		photo := image.Rect(0, 0, width, height)
		place := func(size int) float64 { return float64(random.IntN(8*size+40)-20) / 8 }
		left, middle, right := place(width), place(width), place(width)
		top, step, bottom := place(height), place(height), place(height)
		region := Region{{left, top}, {middle, top}, {middle, step}, {right, step}, {right, bottom}, {left, bottom}}
		taps := kernel([]float64{0, 0.6, 2, 3.5, 9}[random.IntN(5)])
		across := blurAcross(newCoverage(region, photo), taps, photo)
		mask := blurDown(across, taps, photo, photo)
		for y := range height {
			alone := blurAcross(newCoverage(region, photo), taps, image.Rect(0, y, width, y+1))
			for x := range width {
				if across[y*width+x] != alone[x] {
					t.Fatalf("%v: line %d holds %d at %d, by itself %d", region, y, across[y*width+x], x, alone[x])
				}
				sum := int64(1 << 31)
				for d := 1 - len(taps); d < len(taps); d++ {
					sum += taps[max(d, -d)] * int64(across[min(max(y+d, 0), height-1)*width+x])
				}
				if got := mask.At(x, y); got != uint16(sum>>32) {
					t.Fatalf("%v with %d taps: pixel (%d, %d) is %d, want %d", region, len(taps), x, y, got, sum>>32)
				}
			}
		}
	}
}

func TestCutFrameSeesTheSameMask(t *testing.T) {
	photo := image.Rect(-30, -20, 170, 130)
	region := Region{{-25, -10}, {80, 10}, {90, 125}, {10, 100}}
	whole := Feathered(region, 6, photo, photo)
	for _, frame := range []image.Rectangle{image.Rect(0, 0, 100, 80), image.Rect(85, 40, 120, 130), image.Rect(95, 0, 100, 20)} {
		cut := Feathered(region, 6, photo, frame)
		for y := frame.Min.Y; y < frame.Max.Y; y++ {
			for x := frame.Min.X; x < frame.Max.X; x++ {
				if cut.At(x, y) != whole.At(x, y) {
					t.Fatalf("frame %v: (%d, %d) is %d, in the whole photo %d", frame, x, y, cut.At(x, y), whole.At(x, y))
				}
			}
		}
	}
}

func TestMaskIsTrimmedAndEmptyOutside(t *testing.T) {
	photo := image.Rect(0, 0, 100, 100)
	if m := Feathered(box(200, 200, 10, 10), 3, photo, photo); !m.Rect.Empty() {
		t.Errorf("a region outside the photo has a mask over %v", m.Rect)
	}
	m := Feathered(box(40, 40, 10, 10), 0, photo, photo)
	if m.Rect != image.Rect(40, 40, 50, 50) {
		t.Errorf("a hard box covers %v", m.Rect)
	}
	for _, v := range m.Alpha {
		if v != Full {
			t.Fatalf("a hard box holds %d", v)
		}
	}
}

func TestKernelSumsToOne(t *testing.T) {
	for _, sigma := range []float64{0, 0.01, 0.3, 1, 2, 7.7, 250} {
		taps := kernel(sigma)
		sum := taps[0]
		for _, tap := range taps[1:] {
			sum += 2 * tap
		}
		if sum != kernelUnit {
			t.Errorf("sigma %g: taps sum to %d", sigma, sum)
		}
	}
	// Gaussian of 1 integrated over pixels: .38292492, .24173034, .06059754, .00597704 (normal distribution).
	for i, want := range []float64{.38292492, .24173034, .06059754, .00597704} {
		if got := float64(kernel(1)[i]) / kernelUnit; math.Abs(got-want) > 1e-4 {
			t.Errorf("tap %d is %.6f, want %.6f", i, got, want)
		}
	}
}

func BenchmarkFeather12At24Megapixels(b *testing.B) {
	photo := image.Rect(0, 0, 6000, 4000)
	region := Region{{1000, 400}, {1900, 420}, {1950, 3800}, {980, 3790}}
	for b.Loop() {
		Feathered(region, 12, photo, photo)
	}
}

// Whichever edge of a region is the slanted one, and whatever rows it crosses.
func TestRowsThatAreSaidToComeAgainDo(t *testing.T) {
	canvas := image.Rect(0, 0, 40, 45)
	region := Region{{3, 0}, {3, 40}, {30, 40}, {30, 20}, {25.5, 12.25}, {25.5, 3}}
	again := 0
	for first := range region {
		c := newCoverage(slices.Concat(region[first:], region[:first]), canvas)
		row, above := make([]uint16, canvas.Dx()), make([]uint16, canvas.Dx())
		c.row(0, above)
		for y := 1; y < canvas.Max.Y; y++ {
			c.row(y, row)
			if c.again(y) {
				again++
				if !slices.Equal(row, above) {
					t.Errorf("from corner %d on: row %d differs from the one above", first, y)
				}
			}
			row, above = above, row
		}
	}
	if again < 20*len(region) {
		t.Errorf("%d rows are said to come again: too few for this test", again)
	}
}
