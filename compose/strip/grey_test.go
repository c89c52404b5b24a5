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
				for _, n := range []int{1, 2, 3, 6} {
					var sought [8]byte
					copy(sought[:n], tags[i:])
					key := [2]uint64{uint64(n), binary.LittleEndian.Uint64(sought[:])}
					if n > 1 {
						key[1] = hash(key[1]<<(64-8*n), greyBits)
					}
					if source, ok := first[key]; ok || place > 0 { // what was never noted is taken for the first place
						same := 0
						for place+same < last && data[source+same] == data[place+same] {
							same++
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
