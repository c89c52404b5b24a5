package strip

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The slow twin of a parse of grey pixels: at each one all lengths of what begins at the last place at which as many pixels as are sought
// together had the same hash. Other bytes are literals. A match that is long enough to be taken at once is not made.
func TestGreyParsesAreTheCheapestOnes(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	table := newTable(&counts{})
	repeated, coloured, whole := 0, 0, 0
	for range 600 {
		stride := 1 + 3*(1+random.IntN(40))
		from := random.IntN(2) * (stride - 3*random.IntN(stride/3))
		var data []byte // of one extent
		for size := random.IntN(600); len(data) < size; {
			if (from+len(data))%stride == 0 {
				data = append(data, 0xee) // the filter's number
			}
			value := uint8(random.IntN(4) * random.IntN(4))
			data = append(data, value, value, value)
			if random.IntN(40) == 0 {
				data[len(data)-1]++
				coloured++
			}
		}
		// Each row by itself: its pixels, and the bytes of others that the extent cuts.
		first := map[[2]uint64]int{} // the last place by number and hash
		rowEnd := map[int]int{}      // by place of a pixel, that of the end of the row's pixels
		zero := math.MaxInt          // the place of the first pixel, if it lies in the first three bytes
		want := uint32(0)
		tooLong := false
		for at := 0; at < len(data); {
			row := stride - (from+at)%stride
			begin, end := min(len(data), at+row%3), min(len(data), at+row)
			last := end - (end-begin)%3
			for _, stray := range slices.Concat(data[at:begin], data[last:end]) {
				want += table.literals[stray].count()
			}
			pixels := data[begin:last]
			tags := make([]byte, len(pixels)/3+greyMost)
			for i := range len(pixels) / 3 {
				tags[i] = pixels[3*i] + 37*(pixels[3*i+1]-pixels[3*i]) + 91*(pixels[3*i+2]-pixels[3*i+1])
			}
			least := make([]uint32, len(pixels)/3+1)
			for i := range least[1:] {
				least[i+1] = math.MaxUint32
			}
			for i := range len(pixels) / 3 {
				literals := uint32(0)
				for _, value := range pixels[3*i : 3*i+3] {
					literals += table.literals[value].count()
				}
				least[i+1] = min(least[i+1], least[i]+literals)
				place := begin + 3*i
				rowEnd[place] = last
				if place < 3 {
					zero = place
				}
				for _, n := range []int{1, 2, 3, 6} {
					var sought [8]byte
					copy(sought[:n], tags[i:])
					key := [2]uint64{uint64(n), binary.LittleEndian.Uint64(sought[:])}
					if n > 1 {
						key[1] = hash(key[1]<<(64-8*n), greyBits)
					}
					source, ok := first[key]
					if !ok { // then it is taken for the first pixel, whose index is 0
						source, ok = zero, place > zero
					}
					if ok {
						same := 0
						for place+same < last && data[source+same] == data[place+same] {
							same++
						}
						if left := rowEnd[source] - source; left < 3*greyMost {
							same = min(same, left)
						}
						for n := 1; n <= same/3; n++ {
							least[i+n] = min(least[i+n], least[i]+table.price([]token{match(3*n, place-source)}))
							whole++
						}
						tooLong = tooLong || same/3 >= longGrey
					}
					first[key] = place
				}
			}
			want += least[len(pixels)/3]
			at = end
		}
		if tooLong {
			continue
		}
		p := parser{stride: stride}
		extents := []extent{{from: int32(from), to: int32(from + len(data))}}
		p.begin(append(make([]byte, 0, len(data)+parsePad), data...), extents, kindGrey)
		tokens := p.parse(0, table)
		if bits := table.price(tokens); bits != want {
			t.Fatalf("%v, rows of %d from %d on, takes %d bits as %x; the cheapest way takes %d", data, stride, from, bits, tokens, want)
		}
		repeated += len(data) - len(tokens)
	}
	if repeated < 1000 || coloured < 100 || whole < 1000 {
		t.Errorf("tried too seldom: %d bytes repeated, %d coloured pixels, %d matches", repeated, coloured, whole)
	}
}

// Many colours share a tag, and must not be taken for the same.
func TestPixelsOfManyColoursStandForTheirBytes(t *testing.T) {
	random := rand.New(rand.NewPCG(43, 44))
	table := newTable(&counts{})
	repeated, alike := 0, 0
	for range 20 {
		stride := 1 + 3*(10+random.IntN(300))
		var data []byte
		var before [256][]byte // the last pixel by tag
		for len(data) < 20*stride {
			if len(data)%stride == 0 {
				data = append(data, 4)
				continue
			}
			pixel := []byte{byte(random.IntN(8)), byte(random.Uint32()), byte(random.Uint32())}
			if len(data)/stride%2 == 1 { // few colours
				pixel[1], pixel[2] = byte(random.IntN(3)), byte(random.IntN(3))
			}
			tag := pixel[0] + 37*(pixel[1]-pixel[0]) + 91*(pixel[2]-pixel[1])
			if other := before[tag]; other != nil && !slices.Equal(other, pixel) {
				alike++
			}
			before[tag] = pixel
			data = append(data, pixel...)
		}
		p := parser{stride: stride}
		p.begin(append(make([]byte, 0, len(data)+parsePad), data...), []extent{{to: int32(len(data))}}, kindGrey)
		repeated += standFor(t, p.parse(0, table), data, slices.Repeat([]bool{true}, len(data)), 0, len(data))
	}
	if repeated < 1000 || alike < 1000 {
		t.Errorf("tried too seldom: %d matches, %d tags of other pixels", repeated, alike)
	}
}
