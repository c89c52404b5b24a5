package sound

import (
	"math/bits"

	"github.com/mewkiz/flac/frame"
)

const (
	// highestOrder of FLAC's fixed predictors (RFC 9639, 9.2.5): each order is the difference of the one before.
	highestOrder = 4
	// partitions of a block, 2^partitionOrder, have a Rice parameter each, so that a stroke does not spoil the rest.
	partitionOrder = 4
	highestRice    = 14 // 15 stands for samples that are not coded
)

// predict chooses how a block is coded: by the fixed predictor with the smallest remainders, and the Rice parameter for
// each partition that their mean asks for.
func predict(samples []int32) *frame.Subframe {
	s := &frame.Subframe{Samples: samples, NSamples: len(samples), SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}}
	if len(samples) <= highestOrder {
		return s
	}
	same := true
	for _, v := range samples {
		same = same && v == samples[0]
	}
	if same {
		s.Pred = frame.PredConstant
		return s
	}
	var sums [highestOrder + 1]int64
	var last [highestOrder + 1]int32
	for i, v := range samples {
		for order := range sums {
			if i >= highestOrder {
				sums[order] += int64(max(v, -v))
			}
			v, last[order] = v-last[order], v
		}
	}
	for order := range sums {
		if sums[order] < sums[s.Order] {
			s.Order = order
		}
	}
	s.Pred, s.ResidualCodingMethod = frame.PredFixed, frame.ResidualCodingMethodRice1
	s.RiceSubframe = &frame.RiceSubframe{PartOrder: partitionOrder}
	if len(samples)%(1<<partitionOrder) != 0 || len(samples)>>partitionOrder <= highestOrder {
		s.RiceSubframe.PartOrder = 0
	}
	remainders := differences(samples, s.Order)
	length := len(samples) >> s.RiceSubframe.PartOrder
	total := 0
	for from := 0; from < len(samples); from += length {
		part := remainders[max(from, s.Order):][:length-max(s.Order-from, 0)]
		parameter, size := rice(part)
		s.RiceSubframe.Partitions = append(s.RiceSubframe.Partitions, frame.RicePartition{Param: parameter})
		total += size
	}
	if total > 16*len(samples) {
		s.SubHeader = frame.SubHeader{Pred: frame.PredVerbatim}
	}
	return s
}

// differences are the samples after so many times taking each one's difference from the one before. The first order of
// them mean nothing.
func differences(samples []int32, order int) []int32 {
	out := append([]int32(nil), samples...)
	for range order {
		for i := len(out) - 1; i > 0; i-- {
			out[i] -= out[i-1]
		}
	}
	return out
}

// rice is the best Rice parameter for remainders, and how many bits they take with it. The best is near the logarithm of
// their mean.
func rice(remainders []int32) (parameter uint, size int) {
	sum := uint64(0)
	for _, v := range remainders {
		sum += uint64(folded(v))
	}
	near := bits.Len64(sum / uint64(max(len(remainders), 1)))
	size = -1
	for k := max(near-2, 0); k <= min(near, highestRice); k++ {
		n := len(remainders) * (k + 1)
		for _, v := range remainders {
			n += int(folded(v) >> k)
		}
		if size < 0 || n < size {
			parameter, size = uint(k), n
		}
	}
	if size < 0 {
		return highestRice, 1 << 30
	}
	return parameter, size
}

// folded counts 0, -1, 1, -2, 2, ... as 0, 1, 2, 3, 4.
func folded(v int32) uint32 { return uint32(v<<1) ^ uint32(v>>31) }
