package main

import (
	"image"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/analyze/plan"
	"colonnade/analyze/song"
	"colonnade/analyze/timing"
	"colonnade/compose/photos"
)

// planFlags are the command's flags as they were written.
type planFlags struct {
	columns                                int
	levels, song, length, fps, size, sheet string
	flags                                  *pflag.FlagSet
}

func planCommand() command {
	return command{
		name: "plan", args: "",
		short:   "what a shoot needs: photos, objects, storage, a shot list",
		example: "colonnade plan --columns 6 --levels 5 --song song.wav --html shoot.html",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			p := &planFlags{flags: flags}
			flags.IntVar(&p.columns, "columns", 6, "`N`: number of stacks")
			flags.StringVar(&p.levels, "levels", "5", "`N`: objects in a full stack, the highest level; or one number a stack: 5,4,6")
			flags.StringVar(&p.song, "song", "", "`FILE`: the song, for its length")
			flags.StringVar(&p.length, "length", "", "`TIME`: the song's length, where there is no song yet: 3:30 or seconds")
			flags.StringVar(&p.fps, "fps", "25", "`RATE`: frames a second: 25, 23.976 or 24000/1001")
			flags.StringVar(&p.size, "size", "1920x1080", "`WxH`: the frame's size")
			flags.StringVar(&p.sheet, "html", "", "`FILE`: also write one page for printing, with boxes to tick (- for standard output, instead of the text)")
			return func(args []string) error { return makePlan(p, args, out) }
		},
	}
}

func makePlan(p *planFlags, args []string, out streams) error {
	if len(args) > 0 {
		return inputf("plan: %q is one thing too many; it takes flags alone, see colonnade plan --help", args[0])
	}
	shoot, notes, err := p.shoot()
	if err != nil {
		return err
	}
	if err := keepInputs([]string{p.sheet}, []string{p.song}); err != nil {
		return err
	}
	tell(out.stderr, notes)
	if p.sheet != "" {
		if err := writeWhole(p.sheet, out.stdout, shoot.WriteHTML); err != nil {
			return err
		}
	}
	if p.sheet == "-" {
		return nil
	}
	return shoot.Write(out.stdout)
}

func (p *planFlags) shoot() (*plan.Shoot, []string, error) {
	shoot := new(plan.Shoot)
	var err error
	if shoot.Objects, err = p.objects(); err != nil {
		return nil, nil, err
	}
	if shoot.Rate, err = timing.ParseRate(p.fps); err != nil {
		return nil, nil, inputf("--fps: %w", err)
	}
	if shoot.Size, err = parseSize(p.size); err != nil {
		return nil, nil, err
	}
	var notes []string
	switch {
	case p.song != "" && p.length != "":
		return nil, nil, inputf("plan: --song and --length both tell how long the song is; give one of them")
	case p.length != "":
		t, err := timing.ParseTime(p.length)
		if err != nil {
			return nil, nil, inputf("--length: %w", err)
		}
		if t.Sign() == 0 {
			return nil, nil, inputf("--length: 0 seconds make no frame; write it as 3:30 or in seconds")
		}
		shoot.Seconds, _ = t.Float64()
		shoot.Frames = shoot.Rate.LastBefore(t)
	case p.song != "":
		source, err := song.Open(p.song)
		if err != nil {
			return nil, nil, input(err)
		}
		defer source.Close()
		info := source.Info()
		shoot.Song, shoot.Seconds = photos.Quote(filepath.Base(p.song)), info.Seconds()
		shoot.Frames = shoot.Rate.FrameCount(info.Frames, info.Rate)
		for _, note := range info.Notes {
			notes = append(notes, "song: "+photos.Quote(p.song)+": "+note)
		}
	}
	return shoot, notes, nil
}

// objects reads --columns and --levels: the objects of each column.
func (p *planFlags) objects() ([]int, error) {
	if p.columns < 1 {
		return nil, inputf("--columns: %d is outside 1 to %d; write how many stacks there will be, as 6", p.columns, plan.MaxColumns)
	}
	if p.columns > plan.MaxColumns {
		return nil, inputf("--columns: %d is outside 1 to %d; plan a larger shoot in parts", p.columns, plan.MaxColumns)
	}
	parts := strings.Split(p.levels, ",")
	numbers := make([]int, len(parts))
	for i, part := range parts {
		n, err := strconv.Atoi(strings.TrimSpace(part))
		if err != nil {
			return nil, inputf("--levels: %q is not a number of objects; write it as 5, or one a stack as 5,4,6", part)
		}
		if n < 1 || n > plan.MaxObjects {
			return nil, inputf("--levels: %d is outside 1 to %d objects; write it as 5", n, plan.MaxObjects)
		}
		numbers[i] = n
	}
	if len(numbers) == 1 {
		for len(numbers) < p.columns {
			numbers = append(numbers, numbers[0])
		}
		return numbers, nil
	}
	if p.flags.Changed("columns") && len(numbers) != p.columns {
		return nil, inputf("--levels: %d numbers are given for %d columns; write one for each, or one for all", len(numbers), p.columns)
	}
	if len(numbers) > plan.MaxColumns {
		return nil, inputf("--levels: %d columns are more than %d; plan a larger shoot in parts", len(numbers), plan.MaxColumns)
	}
	return numbers, nil
}

// parseSize reads a frame's size, "1920x1080".
func parseSize(text string) (image.Point, error) {
	width, height, _ := strings.Cut(strings.ToLower(text), "x")
	w, err1 := strconv.Atoi(width)
	h, err2 := strconv.Atoi(height)
	const widest = 65535
	if err1 != nil || err2 != nil || w < 1 || h < 1 || w > widest || h > widest {
		return image.Point{}, inputf("--size: %q is not a width and a height of 1 to %d pixels; write it as 1920x1080", text, widest)
	}
	return image.Pt(w, h), nil
}
