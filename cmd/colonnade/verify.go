package main

import (
	"encoding/json"
	"fmt"
	"runtime"

	"github.com/spf13/pflag"

	"colonnade/compose/photos"
	"colonnade/compose/sequence"
)

func verifyCommand() command {
	return command{
		name: "verify", args: "FOLDER",
		short:   "tells whether a folder of frames is whole and sound",
		example: "colonnade verify frames",
		setup: func(flags *pflag.FlagSet, out streams) func([]string) error {
			asJSON := flags.Bool("json", false, "write one JSON object")
			jobs := flags.IntP("jobs", "j", runtime.GOMAXPROCS(0), "`N`: frames read side by side")
			return func(args []string) error { return verify(args, *asJSON, *jobs, out) }
		},
	}
}

func verify(args []string, asJSON bool, jobs int, out streams) error {
	if len(args) != 1 {
		return inputf("verify: one folder of frames is needed, %d given; write colonnade verify frames", len(args))
	}
	if jobs < 1 || jobs > 1024 {
		return inputf("--jobs: %d is outside 1 to 1024; leave it out to use every core", jobs)
	}
	found, err := sequence.Verify(args[0], jobs)
	if err != nil {
		return input(err)
	}
	if asJSON {
		text, err := json.MarshalIndent(found, "", "  ")
		if err != nil {
			return err
		}
		fmt.Fprintf(out.stdout, "%s\n", text)
	} else {
		for _, fault := range found.Faults {
			fmt.Fprintf(out.stdout, "%s: %s; %s\n", fault.Where, fault.What, fault.Remedy)
		}
		if len(found.Faults) == 0 {
			fmt.Fprintf(out.stdout, "%s: %d frames, %d to %d, whole and sound\n", photos.Quote(args[0]), found.Frames, found.First, found.Last)
		}
	}
	if len(found.Faults) > 0 {
		return statusError{status: statusFault}
	}
	return nil
}
