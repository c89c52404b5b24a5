package strip

import "context"

// rival is a way to code a group.
type rival struct {
	block
	trial trial
	seen  *counts // the tokens of a sample, parsed as trial says; nil if none has been
	bits  int64   // their entropy
}

// contest is how rivals are compared. One must be better by a part in margin than the best of those before it.
type contest struct {
	margin int64
	trial  trial
}

// trial is what of a band's sample is parsed.
type trial struct {
	whole  bool // the whole width, not the half
	rounds int  // so many times, each with the code of the one before
}

// filterMargin is there since what Up repeats from above the sample does not show in it.
const filterMargin = 128

// filterContest is for frames so many pixels wide. Of narrow ones half the width holds too little to tell, and the first code, of the matches
// that Up usually has, would count too much.
func filterContest(width int) contest {
	if width < narrowFrame {
		return contest{filterMargin, trial{whole: true, rounds: 2}}
	}
	return contest{filterMargin, trial{rounds: 1}}
}

// kindContest is the same for photoKinds and slopeKinds. At 96 in the place of 64 noisy photographs of 1920 x 1080 take more than twice what decoding takes until
// the first frame is on the disk, for one part in a hundred of size. Narrow frames were not
// compared at 64; of large ones decoding takes more of the time; and of wide ones, whose window holds two rows or less, every place that is looked at counts.
func kindContest(width int) contest {
	switch {
	case width < narrowFrame:
		return contest{96, trial{whole: true, rounds: 1}}
	case width < largeFrame:
		return contest{64, trial{rounds: 1}}
	case width < wideFrame:
		return contest{96, trial{rounds: 1}}
	}
	return contest{192, trial{rounds: 1}}
}

const (
	narrowFrame = 1000
	largeFrame  = 3000
	wideFrame   = 5000
)

// photoKinds is how a photograph that is neither smooth nor black and white may be parsed; what takes less time comes first. The last
// one takes a third to two thirds more than the others.
var photoKinds = []kind{kindGrey, kindPhoto, kindDense}

// slopeKinds is how one may be parsed whose literals are those of slopes. So are those of skies in files of low quality, but these are mostly
// smaller by whole pixels, which take half the time.
var slopeKinds = []kind{kindGrey, kindSlope}

// slopeMargin is by how much slopes must be better, as a part in so many: at 64 skies of 1280 x 720 are no smaller, and take twice what
// decoding takes until the first frame is on the disk.
const slopeMargin = 16

// shortlist finds out which filters are to be tried, and whether with the seam: Sub may not leave more there than seven eighths of what Up leaves.
func (g *choice) shortlist(texture texture, seam int) {
	if seam != noSeam && (g.drawn || 8*g.seen[filterSub][seam].size() > 7*g.seen[filterUp][seam].size()) {
		seam = noSeam
	}
	seen := g.counts(filterUp, seam)
	up := seen.entropy()
	least, fewest := filterUp, up
	for _, filter := range filterOrder[1:] {
		if !texture.allows(filter) {
			continue
		}
		if b := g.counts(filter, seam).entropy(); b < fewest {
			least, fewest = filter, b
		}
	}
	all := seen.all()
	as := kindPhoto
	switch {
	case (g.drawn || g.grey < 0) && slopes(g.counts(least, noSeam)):
		as = kindSlope
	case g.drawn:
		as = kindDrawn
	case g.small > 0:
		as = kindGrey
	case up < 2*all<<16:
		as = kindSmooth
	}
	sample := sampleBytes
	if g.drawn {
		sample = int(min(sampleFlat, max(sampleBytes, all*sampleFlatBits<<16/max(1, fewest))))
	}
	first := block{filter: filterUp, seam: seam, kind: as, sample: sample}
	g.rivals = []rival{{block: first}}
	if fewest < up-g.margin(up, filterMargin) {
		first.filter = least
		g.rivals = append(g.rivals, rival{block: first})
	}
}

// shortlistKinds has what is left tried as all photoKinds, or all slopeKinds, if it is a photograph of them.
func (g *choice) shortlistKinds() {
	best := g.rivals[0]
	all := photoKinds
	switch {
	case best.kind == kindSlope && !g.drawn:
		all = slopeKinds
	case best.kind != kindPhoto:
		return
	}
	g.rivals = nil
	for _, as := range all {
		r := rival{block: best.block}
		if as == best.kind {
			r = best
		} else {
			r.kind, r.table = as, nil
		}
		g.rivals = append(g.rivals, r)
	}
}

// expected is the kind whose usual matches are those of a group, most likely: those of its grey parts.
func (g *choice) expected(as kind) kind {
	if g.grey > 0 && as.photographed() {
		return kindGrey
	}
	return as
}

// slopes tells whether literals are those of slopes: three in four are 0, three in four of the others are 1 or -1, and of these there are
// enough to take a tenth of a bit a byte.
func slopes(seen *counts) bool {
	all, zeros := seen.all(), int64(seen.symbols[0])
	steps := int64(seen.symbols[1]) + int64(seen.symbols[255])
	return 4*zeros >= 3*all && 4*steps >= 3*(all-zeros) && 10*seen.entropy() >= all<<16
}

// margin is by how many of the bits that a rival takes another must be better, as a part in so many; of drawn groups by none.
func (g *choice) margin(bits, part int64) int64 {
	if g.drawn {
		return 0
	}
	return bits / part
}

// compete leaves the best rival of each group, with its table: one that is better by the margin than all before it.
func (s *sampler) compete(ctx context.Context, choices []*choice, by contest) error {
	type job struct {
		g *choice
		*rival
	}
	var jobs []job
	for _, g := range choices {
		for i := range g.rivals {
			jobs = append(jobs, job{g, &g.rivals[i]})
		}
	}
	err := s.c.each(ctx, len(jobs), func(w *worker, j int) {
		g, r := jobs[j].g, jobs[j].rival
		if r.table == nil {
			r.table = firstTable(g.counts(r.filter, r.seam), g.expected(r.kind))
		}
		if r.trial != by.trial && len(g.rivals) > 1 {
			r.trial, r.seen = by.trial, s.coded(w, g.bands[len(g.bands)/2], &r.block, by.trial)
			r.bits = r.seen.entropy()
		}
	})
	for _, g := range choices {
		best := g.rivals[0]
		fewest := best.bits
		for _, r := range g.rivals[1:] {
			part := by.margin
			if r.kind == kindSlope && best.kind != kindSlope {
				part = slopeMargin
			}
			if r.bits < fewest-g.margin(fewest, part) {
				best = r
			}
			fewest = min(fewest, r.bits)
		}
		g.rivals = []rival{best}
	}
	return err
}

// coded is the tokens of a band's trial, with all objects shown; of photographs with none shown as well, each in a quarter of the
// width or all of it.
func (s *sampler) coded(w *worker, b int, as *block, how trial) *counts {
	band, width := &s.c.layout.bands[b], s.c.layout.stride
	type side struct{ level, from, to int }
	all := []side{{s.top(), 0, width}}
	static := all
	switch {
	case band.drawn():
		how.rounds = 1
	case how.whole:
		all = append([]side{{0, 0, width}}, all...)
	default:
		all = []side{{0, width / 4, width / 2}, {s.top(), width / 2, width - width/4}}
		static = []side{{0, width / 4, width - width/4}}
	}
	rows, try := s.c.layout.trial(band, as.sample), *as
	for round := 1; ; round++ {
		seen := new(counts)
		for i := range band.parts {
			sides := all
			if i == 0 { // of no column
				sides = static
			}
			for _, side := range sides {
				t := *s
				t.level, rows.from, rows.to = side.level, side.from, side.to
				t.render(w, b, i, rows, &try)
				w.count(seen, 1, &try)
			}
		}
		if round == how.rounds {
			return seen
		}
		try.table = newTable(seen)
	}
}
