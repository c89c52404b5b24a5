package strip

import (
	"math/rand/v2"
	"testing"
)

// FuzzFrame makes a stage, a coder and frames from what it is given, and reads the frames with image/png.
func FuzzFrame(f *testing.F) {
	for seed := range uint64(8) {
		f.Add(seed, seed*3, int64(seed%2))
	}
	f.Fuzz(func(t *testing.T, a, b uint64, memory int64) {
		random := rand.New(rand.NewPCG(a, b))
		s := randomStage(random)
		c := s.coder(t, Options{Memory: memory, Workers: 1 + random.IntN(3)})
		for range 1 + random.IntN(3) {
			s.check(t, c, randomTuple(random, len(s.Masks), len(s.Photos)))
		}
	})
}
