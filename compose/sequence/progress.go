package sequence

import (
	"sync"
	"sync/atomic"
	"time"
)

const (
	progressEvery = 100 * time.Millisecond
	rateWindow    = 30 * time.Second
)

// counters are what workers count while they work.
type counters struct {
	written, kept, repeated atomic.Int64
	bytes, linkable         atomic.Int64
	stage                   atomic.Pointer[string]
}

func (c *counters) enter(stage string) { c.stage.Store(&stage) }

// teller calls a Progress function from one goroutine.
type teller struct {
	end  chan struct{}
	told sync.WaitGroup
}

// tell begins to call progress, which may be nil, until stop, and then once more.
func tell(c *counters, total int, progress func(Progress)) *teller {
	t := &teller{end: make(chan struct{})}
	if progress == nil {
		return t
	}
	t.told.Go(func() {
		var r rate
		ticker := time.NewTicker(progressEvery)
		defer ticker.Stop()
		begun := time.Now()
		for {
			select {
			case <-ticker.C:
				progress(c.progress(total, &r, time.Since(begun)))
			case <-t.end:
				progress(c.progress(total, &r, time.Since(begun)))
				return
			}
		}
	})
	return t
}

func (t *teller) stop() {
	close(t.end)
	t.told.Wait()
}

func (c *counters) progress(total int, r *rate, now time.Duration) Progress {
	p := Progress{
		Total: total, Written: int(c.written.Load()), Kept: int(c.kept.Load()), Repeated: int(c.repeated.Load()),
		Bytes: c.bytes.Load(),
	}
	if stage := c.stage.Load(); stage != nil {
		p.Stage = *stage
	}
	p.Done = p.Written + p.Kept + p.Repeated
	p.FramesPerSecond = r.at(now, p.Written+p.Repeated)
	if p.FramesPerSecond > 0 {
		p.Left = time.Duration(float64(p.Total-p.Done) / p.FramesPerSecond * float64(time.Second))
	}
	return p
}

// rate is the speed over the last rateWindow.
type rate struct{ seen []sample }

type sample struct {
	when  time.Duration
	count int
}

// at notes a count and tells the speed up to it, in counts a second; 0 while there is none to tell.
func (r *rate) at(now time.Duration, count int) float64 {
	const every = rateWindow / 30 // as many samples as the eye needs
	if len(r.seen) == 0 || now-r.seen[len(r.seen)-1].when >= every {
		r.seen = append(r.seen, sample{now, count})
	}
	for len(r.seen) > 2 && now-r.seen[1].when >= rateWindow {
		r.seen = r.seen[1:]
	}
	first := r.seen[0]
	if now <= first.when || count <= first.count {
		return 0
	}
	return float64(count-first.count) / (now - first.when).Seconds()
}
