package main

import (
	"errors"
	"fmt"
	"io"
	"os/signal"
	"strconv"
	"syscall"
	"time"

	"colonnade/compose/sequence"
	"colonnade/compose/stream"
)

// streamUpdate is how long the progress of a stream stands still at most, but for a frame that takes longer.
const streamUpdate = 200 * time.Millisecond

// sendStream writes the frames to standard output as a video stream.
func (f *renderFlags) sendStream(p *piece, memory int64, show *progress, stop <-chan struct{}, signalled func() int, out streams) error {
	signal.Ignore(syscall.SIGPIPE) // a reader that goes away is an error like any other
	chroma, err := strconv.Atoi(f.chroma)
	if err != nil {
		return input(err)
	}
	size := p.scene.Size()
	video, err := stream.New(stream.Source{
		Width: size.X, Height: size.Y, Base: p.scene.ReadBasePlate, Photo: p.scene.ReadPhoto, Photos: len(p.scene.Set.Photos),
		Masks: p.scene.Masks(), Curve: p.scene.Curve(),
	}, stream.Options{RateNum: p.file.Rate.Num, RateDen: p.file.Rate.Den, Chroma: chroma, Memory: memory, Workers: f.jobs})
	if err != nil {
		return input(err)
	}
	if err := p.scene.Decode(p.shown(p.want.all())); err != nil { // before anything is written
		return input(err)
	}
	var flashing flashWatch
	flashing.begin(p, show)
	begun, told := time.Now(), time.Time{}
	state := sequence.Progress{Total: p.want.last - p.want.first + 1}
	show.update(state)
	end := func(join string) {
		show.end(sequence.Summary{Written: state.Written, Seconds: time.Since(begun).Seconds()}, join)
	}
	if _, err := io.WriteString(out.stdout, video.Header()); err != nil {
		end("")
		return streamError(err)
	}
	for n := p.want.first; n <= p.want.last; n++ {
		select {
		case <-stop:
			end("")
			return statusError{128 + signalled(), fmt.Errorf("stopped after frame %d; a stream begins anew: give --frames %d-%d for the rest", n-1, n, p.want.last)}
		default:
		}
		if err := video.Write(out.stdout, p.tuple(n)); err != nil {
			end("")
			return streamError(err)
		}
		state.Done++
		state.Written++
		if seconds := time.Since(begun).Seconds(); seconds > 0 {
			state.FramesPerSecond = float64(state.Done) / seconds
			state.Left = time.Duration(float64(state.Total-state.Done) / state.FramesPerSecond * float64(time.Second))
		}
		if now := time.Now(); now.Sub(told) >= streamUpdate || state.Done == state.Total {
			told = now
			show.update(state)
		}
	}
	flashing.wait()
	end(f.encoding(p).line())
	return nil
}

func streamError(err error) error {
	if readerGone(err) {
		return errors.New("stream: the program that reads it ended early; see what it says, and start both again")
	}
	return fmt.Errorf("stream: %w; start again", err)
}
