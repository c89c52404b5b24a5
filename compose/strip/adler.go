package strip

import "encoding/binary"

// adlerBase is the modulus of the Adler-32 checksum (RFC 1950, section 8.2).
const adlerBase = 65521

// share is what some bytes of the filtered picture add to its Adler-32. The checksum's halves are
// 1 + (sum of the bytes) and N + (sum of each byte times the number of bytes from it on), N bytes in all, so that
// the shares of bytes at fixed places add up in any order.
type share struct{ sum, weighted uint64 } // each below adlerBase

// add adds data, after whose last byte follow more bytes.
func (s *share) add(data []byte, follow int) {
	var sum, weighted uint64
	for ; len(data) >= 8; data = data[8:] {
		// The eight bytes in eight lanes of 16 bits, whose sums, taken times 8 to 1, a multiplication brings together in the
		// highest lane: at most 255 x 20 each.
		eight := binary.LittleEndian.Uint64(data)
		even, odd := eight&0x00ff00ff00ff00ff, eight>>8&0x00ff00ff00ff00ff
		weighted += 8*sum + even*0x0008_0006_0004_0002>>48 + odd*0x0007_0005_0003_0001>>48
		sum += (even + odd) * 0x0001_0001_0001_0001 >> 48
	}
	for _, b := range data {
		sum += uint64(b)
		weighted += sum
	}
	sum %= adlerBase
	weighted = weighted%adlerBase + sum*uint64(follow%adlerBase)
	s.join(share{sum, weighted % adlerBase})
}

// join adds another share.
func (s *share) join(o share) {
	s.sum = (s.sum + o.sum) % adlerBase
	s.weighted = (s.weighted + o.weighted) % adlerBase
}

// checksum is the Adler-32 of n bytes that have this share.
func (s share) checksum(n int) uint32 {
	a := (1 + s.sum) % adlerBase
	b := (uint64(n) + s.weighted) % adlerBase
	return uint32(b<<16 | a)
}
