package strip

import (
	"encoding/binary"
	"math/bits"
)

// reader goes through the strings of one part of a band in a state.
type reader struct {
	data []byte
	at   int
}

// stride is how many bytes join copies at once.
const stride = 32

// join lays strings of bits end to end in out, whose first end bits are taken: the next one of each reader in the
// order given. It returns where they end. Bits beyond that, up to the end of out, may be overwritten with anything.
// out goes on for at least one byte beyond the last bit's.
//
// This loop is nearly all that a frame costs. A string seldom begins on a whole byte, so every word of eight bytes
// is shifted: multiplied by a power of two, whose product's upper half is what the next word takes over.
// Copying whole strides, whose last bytes the next string overwrites, spares a branch that no processor foretells.
func join(out []byte, end int, readers []reader, order []int32) int {
	for _, o := range order {
		p := &readers[o]
		from, i := p.data, p.at
		count := int(binary.LittleEndian.Uint32(from[i:]))
		i += stringHead
		next := i + (count+7)>>3
		p.at = next

		at, n := end>>3, uint(end)&7
		end += count
		shift := uint64(1) << n
		carry := uint64(out[at]) & (shift - 1)
		for ; i < next && at+stride < len(out); i += stride {
			s, d := (*[stride]byte)(from[i:i+stride]), (*[stride]byte)(out[at:at+stride])
			at += stride
			high0, low0 := bits.Mul64(binary.LittleEndian.Uint64(s[0:8]), shift)
			binary.LittleEndian.PutUint64(d[0:8], low0|carry)
			high1, low1 := bits.Mul64(binary.LittleEndian.Uint64(s[8:16]), shift)
			binary.LittleEndian.PutUint64(d[8:16], low1|high0)
			high2, low2 := bits.Mul64(binary.LittleEndian.Uint64(s[16:24]), shift)
			binary.LittleEndian.PutUint64(d[16:24], low2|high1)
			high3, low3 := bits.Mul64(binary.LittleEndian.Uint64(s[24:32]), shift)
			binary.LittleEndian.PutUint64(d[24:32], low3|high2)
			carry = high3
		}
		for ; i < next; i++ { // near the end of out
			carry |= uint64(from[i]) << n
			out[at] = byte(carry)
			carry >>= 8
			at++
		}
		out[at] = byte(carry)
	}
	return end
}
