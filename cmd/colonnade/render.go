package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"colonnade/analyze/levels"
	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
	"colonnade/compose/scene"
	"colonnade/compose/sequence"
)

// renderFlags are the flags of render beside those it shares.
type renderFlags struct {
	inputs
	output, levels       string
	frames, shard        string
	repeats, progress    string
	memory               string
	stream, chroma       string
	jobs                 int
	dryRun, fresh, quiet bool
}

func renderCommand() command {
	return command{
		name: "render", args: "FILE",
		short:   "the main job: writes the frames",
		example: "colonnade render -o frames columns.toml",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			f := new(renderFlags)
			flags.StringVarP(&f.output, "output", "o", "frames", "`FOLDER`: write the frames here")
			f.register(flags)
			flags.StringVar(&f.levels, "levels", "", "`FILE`: take the levels from this table and hear no song")
			flags.StringVar(&f.frames, "frames", "", "`A-B`: only these frames")
			flags.StringVar(&f.shard, "shard", "", "`K/N`: only the K-th of N equal parts")
			flags.StringVar(&f.repeats, "repeats", "auto", "`HOW`: frames equal to an earlier one: cloned where the file system can (auto), written anew (write), hard-linked (link)")
			flags.StringVar(&f.stream, "stream", "", "`KIND`: y4m sends the frames to standard output instead of a folder")
			flags.StringVar(&f.chroma, "chroma", "420", "`KIND`: colour resolution of the stream, 420 or 444")
			flags.BoolVar(&f.dryRun, "dry-run", false, "say what would be written, and write nothing")
			flags.BoolVar(&f.fresh, "fresh", false, "trust no frame that is there")
			flags.IntVarP(&f.jobs, "jobs", "j", runtime.GOMAXPROCS(0), "`N`: frames made side by side")
			flags.StringVar(&f.memory, "memory", "", "`SIZE`: at most this much for coded pictures, such as 2GiB; half of what is free if not given")
			flags.BoolVarP(&f.quiet, "quiet", "q", false, "say nothing but errors")
			flags.StringVar(&f.progress, "progress", "auto", "`KIND`: auto, plain, json or none")
			return func(args []string) error { return render(f, args, out) }
		},
	}
}

// check refuses flags whose values are wrong or go against each other.
func (f *renderFlags) check() error {
	if err := oneOf("--repeats", f.repeats, flagWords("repeats")...); err != nil {
		return err
	}
	if err := oneOf("--progress", f.progress, flagWords("progress")...); err != nil {
		return err
	}
	if err := oneOf("--chroma", f.chroma, flagWords("chroma")...); err != nil {
		return err
	}
	if f.stream != "" {
		if err := oneOf("--stream", f.stream, flagWords("stream")...); err != nil {
			return err
		}
	}
	if f.jobs < 1 || f.jobs > 1024 {
		return inputf("--jobs: %d is outside 1 to 1024; leave it out to use every core", f.jobs)
	}
	if f.frames != "" && (f.from != "" || f.to != "") {
		return inputf("--frames: goes against --from and --to; give one or the other")
	}
	if f.output == "" {
		return inputf("--output: an empty name; name a folder")
	}
	return nil
}

// unused says which flags that were given have no effect.
func (f *renderFlags) unused() (notes []string) {
	if f.stream == "" {
		if f.flags.Changed("chroma") {
			notes = append(notes, "--chroma: has no effect without --stream, since PNG files hold every pixel's colour; leave it out")
		}
		return notes
	}
	for _, name := range []string{"output", "repeats", "fresh"} {
		if f.flags.Changed(name) {
			notes = append(notes, fmt.Sprintf("--%s: has no effect with --stream, which writes to standard output and no folder; leave it out", name))
		}
	}
	return notes
}

func oneOf(flag, value string, words ...string) error {
	for _, word := range words {
		if value == word {
			return nil
		}
	}
	return inputf("%s: %q is not one of %s; %s", flag, value, strings.Join(words, ", "), suggest(value, words, "choose one of them"))
}

// piece is all that is known before the first frame.
type piece struct {
	file    *columnfile.File
	scene   *scene.Scene
	table   *levels.Table
	seconds float64          // of the song, or of the table
	part    span             // asked for by time or numbers
	want    span             // the shard's share of it
	shards  *sequence.Shards // what it is a share of; nil without --shard
	noticed remarks          // while photos are decoded
}

// tuple is the levels of frame n.
func (p *piece) tuple(n int) []levels.Level { return p.table.Rows[n-p.table.First] }

// shown is the levels of the photos that frames show, rising.
func (p *piece) shown(frames []int) []int {
	var rows [][]levels.Level
	for _, n := range frames {
		rows = append(rows, p.tuple(n))
	}
	return levels.Shown(rows...)
}

// last is the number of the last frame of the whole piece.
func (p *piece) last() int { return p.table.First + len(p.table.Rows) - 1 }

// prepare reads everything: the column file, the photos' headers, the song or the level table.
func (f *renderFlags) prepare(args []string) (*piece, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	file, err := f.read(args)
	if err != nil {
		return nil, err
	}
	p := &piece{file: file}
	if p.scene, err = openScene(file, &p.noticed); err != nil {
		return nil, err
	}
	if f.stream == "" {
		if err := keepPhotos(f.output, p.scene.Set); err != nil {
			return nil, err
		}
	}
	top := p.scene.Set.Top()
	if f.levels != "" {
		if p.table, err = readTable(f.levels, file, top); err != nil {
			return nil, err
		}
		p.seconds = file.Rate.Start(p.last() + 1)
	} else {
		h, err := hear(file, top)
		if err != nil {
			return nil, err
		}
		p.table, p.seconds = h.table, h.info.Seconds()
	}
	whole := span{p.table.First, p.last()}
	if p.part, err = f.span(file.Rate, whole); err != nil {
		return nil, err
	}
	if f.frames != "" {
		if p.part, err = parseFrames(f.frames, whole); err != nil {
			return nil, err
		}
	}
	p.want = p.part
	if f.shard != "" {
		if p.want, p.shards, err = parseShard(f.shard, p.part); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// preparing is how much the heap may grow, in percent, before garbage is looked for, while a render prepares: at first there is so little
// in it that it would be looked through eight times before the first frame, a twentieth of the time until then. At 300 many photos that are
// resized take a third more memory.
const preparing = 200

func render(f *renderFlags, args []string, out streams) error {
	usual := debug.SetGCPercent(preparing)
	defer debug.SetGCPercent(usual)
	words := out.stderr
	if f.quiet {
		words = io.Discard
	}
	if f.stream != "" && !f.dryRun && onTerminal(out.stdout) {
		return inputf("--stream: standard output is a terminal; send it into an encoder, as in colonnade render --stream y4m columns.toml | ffmpeg -i - video.mkv")
	}
	p, err := f.prepare(args)
	if err != nil {
		return err
	}
	memory, err := f.memoryLimit()
	if err != nil {
		return err
	}
	show := newProgress(f.progress, words)
	if f.memory != "" && memory < leastMemory {
		show.notes([]string{fmt.Sprintf("--memory: %s hold no coded picture, so that each frame is made anew, which is slow; write it as 2GiB or 500MB", formatBytes(memory))})
	}
	show.notes(f.unused())
	show.notes(p.file.Notes)
	p.noticed.flow(show.notes)
	if p.want.first > p.want.last {
		fmt.Fprintf(show.words(), "shard %s of %d frames holds none: nothing to do\n", f.shard, len(p.table.Rows))
		show.end(sequence.Summary{}, "")
		return nil
	}
	stop, signalled, done := onSignals(show.words(), show.report)
	defer done()
	coder := p.scene.Coder(memory, f.jobs)
	if f.dryRun {
		if err := dryRun(p, coder, f.encoding(p), out.stdout); err != nil {
			return input(err) // all that can go wrong are the photos
		}
		warnings, err := flashWarnings(p.scene, p.table, p.part)
		show.flashing(warnings)
		return err
	}
	if f.stream != "" {
		debug.SetGCPercent(usual)
		show.start(p.work(f))
		return f.sendStream(p, memory, show, stop, signalled, out)
	}
	// A photo that can not be decoded is told before anything is written. A folder without a record has no frame to keep, so all that are
	// shown are needed, and none is made where one fails; elsewhere it turns out which frames are missing.
	if _, err := os.Stat(filepath.Join(f.output, sequence.RecordName)); err != nil {
		if err := coder.Ready(p.shown(p.want.all())); err != nil {
			return input(err)
		}
	}
	debug.SetGCPercent(usual)
	show.start(p.work(f))
	var flashing flashWatch
	summary, err := sequence.Write(context.Background(), sequence.Options{
		Folder: f.output, First: p.want.first, Last: p.want.last, Count: p.last(), Tuple: p.tuple,
		Coder: watchedCoder{coder, func() { flashing.begin(p, show) }}, Describe: p.describe(), Fresh: f.fresh, Repeats: f.repeats, Jobs: f.jobs,
		Ready: func(missing []int) error {
			return input(show.quietly(func() error { return coder.Ready(p.shown(missing)) }))
		},
		Progress: show.update, Stop: stop,
	})
	if err != nil {
		show.end(summary, "")
		return writeError(err, summary, signalled)
	}
	flashing.wait()
	join := f.encoding(p).line()
	show.end(summary, join)
	f.close(show.words(), p, summary, join)
	return nil
}

// writeError is the error of a command that wrote frames, with its status.
func writeError(err error, summary sequence.Summary, signalled func() int) error {
	if errors.Is(err, sequence.ErrStopped) {
		return statusError{128 + signalled(), fmt.Errorf("stopped: %d frames are done; the same command goes on from there", summary.Written+summary.Kept+summary.Repeated)}
	}
	var inUse sequence.InUseError
	if errors.Is(err, sequence.ErrRefused) || errors.As(err, &inUse) {
		return input(err)
	}
	var photo statusError // of watchedCoder
	if errors.As(err, &photo) && summary.Written+summary.Repeated > 0 {
		return statusError{statusFailed, err}
	}
	return err
}

// work is what is said of the frames at the beginning.
func (p *piece) work(f *renderFlags) *work {
	w := &work{frames: p.want, width: p.scene.Size().X, height: p.scene.Size().Y, rate: fmt.Sprintf("%d/%d", p.file.Rate.Num, p.file.Rate.Den), folder: f.output}
	if f.stream != "" {
		w.folder = ""
	}
	return w
}

// describe names files with / on every system.
func (p *piece) describe() sequence.Description {
	d := sequence.Description{
		Rate: fmt.Sprintf("%d/%d", p.file.Rate.Num, p.file.Rate.Den), Width: p.scene.Size().X, Height: p.scene.Size().Y,
		Song: filepath.ToSlash(p.file.Song), SongStart: p.file.Offset / 1000, SongSeconds: p.seconds, Scene: p.scene.Digest(), Levels: p.levelsDigest(), Columns: p.table.Names, Version: Version, Shards: p.shards,
	}
	for _, photo := range p.scene.Set.Photos {
		d.Photos = append(d.Photos, filepath.ToSlash(photo.Path))
	}
	return d
}

// levelsDigest tells two level tables of the same scene apart.
func (p *piece) levelsDigest() string {
	sum := sha256.New()
	for n := p.table.First; n <= p.last(); n++ {
		io.WriteString(sum, p.scene.Key(p.tuple(n)))
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// count is a number of things with their name, which takes an s but after one.
func count(n int, name string) string {
	if n != 1 {
		name += "s"
	}
	return fmt.Sprintf("%d %s", n, name)
}

// leastMemory is the number of bytes below which a number is taken to lack its unit.
const leastMemory = 1 << 20

func (f *renderFlags) memoryLimit() (int64, error) {
	if f.memory != "" {
		return parseBytes("--memory", f.memory)
	}
	return sequence.FreeMemory() / 2, nil
}

// close says what was done and what an encoder needs to know.
func (f *renderFlags) close(w io.Writer, p *piece, s sequence.Summary, join string) {
	frames := p.want.last - p.want.first + 1
	fmt.Fprintf(w, "%s in %s: %d written, %d kept, %d repeated; %s in %s\n",
		count(frames, "frame"), photos.Quote(f.output), s.Written, s.Kept, s.Repeated, formatBytes(s.Bytes), took(s.Seconds))
	if s.LinkWouldSave > 0 && s.LinkWouldSave > s.Bytes/10 {
		fmt.Fprintf(w, "frames that repeat an earlier one take %s of that; --repeats link would save it\n", formatBytes(s.LinkWouldSave))
	}
	with := ""
	if p.file.Song != "" {
		with = " with the song"
	}
	fmt.Fprintf(w, "join them%s, for example:\n  %s\n", with, join)
}

func dryRun(p *piece, coder *scene.Coder, join encoding, stdout io.Writer) error {
	distinct := make(map[string]int)
	for n := p.want.first; n <= p.want.last; n++ {
		if key := coder.Key(p.tuple(n)); distinct[key] == 0 {
			distinct[key] = n
		}
	}
	frames := p.want.last - p.want.first + 1
	// A sample of frames, evenly spread, tells how large and how quick they are.
	const sample = 12
	var size int64
	var buffer []byte
	count := min(sample, frames)
	var spent time.Duration
	for i := range count {
		n := p.want.first + (frames-1)*i/max(count-1, 1)
		var err error
		if buffer, err = coder.Append(buffer[:0], p.tuple(n)); err != nil {
			return err
		}
		begun := time.Now()
		if buffer, err = coder.Append(buffer[:0], p.tuple(n)); err != nil {
			return err
		}
		spent += time.Since(begun)
		size += int64(len(buffer))
	}
	size /= int64(count)
	total := size * int64(frames)
	const disk = 200e6 // bytes a second: a plain disk or a slow card reader's worth of solid-state disk
	seconds := math.Max(spent.Seconds()/float64(count)*float64(frames)/float64(runtime.GOMAXPROCS(0)), float64(total)/disk)
	fmt.Fprintf(stdout, "frames    %d, numbers %d to %d, %s a second, %d x %d\n", frames, p.want.first, p.want.last, p.file.Rate, p.scene.Size().X, p.scene.Size().Y)
	fmt.Fprintf(stdout, "distinct  %d; the others repeat one of these\n", len(distinct))
	fmt.Fprintf(stdout, "on disk   about %s, or %s with --repeats link\n", formatBytes(total), formatBytes(size*int64(len(distinct))))
	fmt.Fprintf(stdout, "time      about %s on a disk that takes %s a second\n", (time.Duration(seconds*float64(time.Second)) + time.Second).Truncate(time.Second), formatBytes(disk))
	fmt.Fprintf(stdout, "encoder   %s\n", join.line())
	return nil
}
