package main

import (
	"context"
	"fmt"
	"runtime"

	"github.com/spf13/pflag"

	"colonnade/compose/photos"
	"colonnade/compose/sequence"
)

type verifyFlags struct {
	json     bool
	jobs     int
	join     string
	repeats  string
	progress string
}

func verifyCommand() command {
	return command{
		name: "verify", args: "FOLDER...",
		short:   "tells whether a folder of frames is whole and sound",
		example: "colonnade verify --join frames shard-1 shard-2",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			f := &verifyFlags{}
			flags.StringVar(&f.join, "join", "", "`FOLDER`: bring the frames of several folders together here")
			flags.StringVar(&f.repeats, "repeats", "auto", "`HOW`: of a join: frames are cloned where the file system can (auto), written anew (write), hard-linked (link)")
			flags.BoolVar(&f.json, "json", false, "write one JSON object")
			flags.IntVarP(&f.jobs, "jobs", "j", runtime.GOMAXPROCS(0), "`N`: frames read side by side")
			flags.StringVar(&f.progress, "progress", "auto", "`KIND`: of a join: auto, plain, json or none")
			return func(args []string) error { return verify(f, args, out) }
		},
	}
}

func verify(f *verifyFlags, folders []string, out streams) error {
	if len(folders) < 1 {
		return inputf("verify: no folder of frames is given; write colonnade verify frames")
	}
	if f.jobs < 1 || f.jobs > 1024 {
		return inputf("--jobs: %d is outside 1 to 1024; leave it out to use every core", f.jobs)
	}
	if err := oneOf("--progress", f.progress, flagWords("progress")...); err != nil {
		return err
	}
	if err := oneOf("--repeats", f.repeats, flagWords("repeats")...); err != nil {
		return err
	}
	var found *sequence.Report
	var summary sequence.Summary
	var err error
	if f.join == "" {
		if found, err = sequence.Verify(f.jobs, folders...); err != nil {
			return input(err)
		}
	} else {
		show := newProgress(f.progress, out.stderr)
		stop, signalled, done := onSignals(show.words(), show.report)
		defer done()
		summary, found, err = sequence.Join(context.Background(), sequence.Options{Folder: f.join, Repeats: f.repeats, Jobs: f.jobs, Progress: show.update, Stop: stop}, folders...)
		show.end(summary, "")
		if err := writeError(err, summary, signalled); err != nil {
			return err
		}
	}
	if f.json {
		text, err := encodeJSON(found, "  ")
		if err != nil {
			return err
		}
		out.stdout.Write(text)
	} else {
		f.tell(found, summary, out)
	}
	if len(found.Faults) > 0 {
		return statusError{status: statusFault}
	}
	return nil
}

// tell says what was found and done, for people.
func (f *verifyFlags) tell(found *sequence.Report, summary sequence.Summary, out streams) {
	for _, fault := range found.Faults {
		fmt.Fprintln(out.stdout, oneLine(fmt.Sprintf("%s: %s; %s", fault.Where, fault.What, fault.Remedy)))
	}
	where := photos.Quote(found.Folder)
	if more := len(found.Folders) - 1; more > 0 {
		where = fmt.Sprintf("%s and %d more", where, more)
	}
	frames := fmt.Sprintf("%s, %d to %d", count(found.Frames, "frame"), found.First, found.Last)
	if found.Frames < found.Wanted {
		frames += fmt.Sprintf(" of the piece's %d", found.Wanted)
	}
	switch {
	case len(found.Faults) > 0 && f.join != "":
		fmt.Fprintf(out.stdout, "%s: nothing was brought there; mend the above, then give the same command again\n", photos.Quote(f.join))
	case len(found.Faults) > 0:
	case f.join != "":
		fmt.Fprintf(out.stdout, "%s: %s, brought together from %s, whole and sound: %d written, %d kept, %d cloned or linked\n",
			photos.Quote(f.join), frames, where, summary.Written, summary.Kept, summary.Repeated)
	default:
		fmt.Fprintf(out.stdout, "%s: %s, whole and sound\n", where, frames)
	}
}
