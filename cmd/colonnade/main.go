// Colonnade plays stacks of objects in photographs by a song: from a photo set, a column file and a song it
// writes numbered PNG frames.
//
// This package parses the command line, calls the packages that do the work, and reports. Results go to
// standard output, all else to standard error.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/cmd/columnfile"
	"colonnade/compose/photos"
)

// Version is the program's version.
const Version = "0.1.0"

// Exit statuses.
const (
	statusDone   = 0
	statusFailed = 1 // the work failed
	statusInput  = 2 // the command line or an input is wrong, and nothing was written
	statusFault  = 3 // check or verify found a fault
)

// command is one thing the program does. setup registers the flags and gives back what to run.
type command struct {
	name, args, short, example string
	hidden                     bool // the overview names it below its list
	setup                      func(flags *pflag.FlagSet, out streams) func(args []string) error
}

// streams are where a command reads and writes.
type streams struct{ stdout, stderr io.Writer }

func commands() []command {
	return []command{planCommand(), markCommand(), checkCommand(), listenCommand(), proofCommand(), renderCommand(), verifyCommand(), manualCommand(), completeCommand()}
}

func main() { os.Exit(run(os.Args[1:], streams{os.Stdout, os.Stderr})) }

func run(args []string, out streams) int {
	to := &results{Writer: out.stdout}
	out.stdout = to
	err := to.orLost(dispatch(args, out))
	var status statusError
	switch {
	case err == nil:
		return statusDone
	case errors.As(err, &status):
		if status.err != nil {
			report(out.stderr, status.err)
		}
		return status.status
	default:
		report(out.stderr, err)
		return statusFailed
	}
}

// results is standard output. It remembers the first failure, since a line of words is printed without asking whether it was.
type results struct {
	io.Writer
	failed error
}

func (r *results) Write(text []byte) (int, error) {
	n, err := r.Writer.Write(text)
	if r.failed == nil {
		r.failed = err
	}
	return n, err
}

// orLost is a command's error, or that its results were lost where it says nothing else.
func (r *results) orLost(err error) error {
	var status statusError
	if r.failed == nil || err != nil && err != r.failed && !(errors.As(err, &status) && status.err == nil) {
		return err
	}
	return fmt.Errorf("standard output: can not be written (%w); make room, or send it elsewhere, and run it again", photos.Cause(r.failed))
}

func report(w io.Writer, err error) {
	// One error, one line.
	fmt.Fprintf(w, "colonnade: %s\n", oneLine(err.Error()))
}

// statusError is an error with its own exit status; err is nil when all is said already.
type statusError struct {
	status int
	err    error
}

func (e statusError) Error() string {
	if e.err == nil {
		return fmt.Sprintf("exit status %d", e.status)
	}
	return e.err.Error()
}

func (e statusError) Unwrap() error { return e.err }

// input marks an error as a wrong command line or input: nothing was written.
func input(err error) error {
	if err == nil {
		return nil
	}
	return statusError{statusInput, err}
}

func inputf(format string, args ...any) error { return input(fmt.Errorf(format, args...)) }

func dispatch(args []string, out streams) error {
	if len(args) == 0 {
		overview(out.stderr)
		return inputf("no command given; name one of those above")
	}
	name := args[0]
	switch name {
	case "-h", "--help", "help":
		if len(args) > 1 && !slices.Contains([]string{"-h", "--help", "help"}, args[1]) {
			return dispatch([]string{args[1], "--help"}, out)
		}
		overview(out.stdout)
		return nil
	case "--version", "version":
		fmt.Fprintln(out.stdout, version())
		return nil
	}
	for _, c := range commands() {
		if c.name != name {
			continue
		}
		flags, run := c.prepare(out)
		err := flags.Parse(args[1:])
		if errors.Is(err, pflag.ErrHelp) {
			help(out.stdout, c, flags)
			return nil
		}
		if err != nil {
			return input(flagError(name, flags, err))
		}
		return run(flags.Args())
	}
	var names []string
	for _, c := range commands() {
		names = append(names, c.name)
	}
	return inputf("%q is not a command; %s", name, suggest(name, names, "see colonnade --help"))
}

// prepare registers the flags of a command and gives what runs it.
func (c command) prepare(out streams) (*pflag.FlagSet, func(args []string) error) {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	flags.SortFlags = false
	flags.SetOutput(io.Discard)
	flags.Usage = func() {}
	return flags, c.setup(flags, out)
}

func flagError(name string, flags *pflag.FlagSet, err error) error {
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		var names []string
		flags.VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
		given := unknown.GetSpecifiedName()
		dashes := "--"
		if len(given) == 1 {
			dashes = "-"
		}
		return fmt.Errorf("%s: unknown flag %q; %s", name, dashes+given, suggest(dashes+given, names, "see colonnade "+name+" --help"))
	}
	var wrong *pflag.InvalidValueError
	if errors.As(err, &wrong) {
		f := wrong.GetFlag()
		switch f.Value.Type() {
		case "int":
			return fmt.Errorf("--%s: %q is not a whole number that it can be; write it in digits alone, as 4", f.Name, wrong.GetValue())
		case "bool":
			return fmt.Errorf("--%s: it takes no value, %q is given; write the flag alone", f.Name, wrong.GetValue())
		}
	}
	var alone *pflag.ValueRequiredError
	if errors.As(err, &alone) {
		value, _ := flagText(alone.GetFlag())
		return fmt.Errorf("--%s: nothing follows it; write --%s %s", alone.GetFlag().Name, alone.GetFlag().Name, value)
	}
	return fmt.Errorf("%s: %s; see colonnade %s --help", name, strings.TrimSuffix(err.Error(), "."), name)
}

func overview(w io.Writer) {
	fmt.Fprintln(w, "colonnade plays stacks of objects in photographs by a song.")
	fmt.Fprintln(w, "\nusage: colonnade COMMAND [flags] [FILE]")
	fmt.Fprintln(w)
	for _, c := range commands() {
		if !c.hidden {
			fmt.Fprintf(w, "  %-8s %s\n", c.name, c.short)
		}
	}
	fmt.Fprintln(w, "\nFILE is a column file, columns.toml by custom. colonnade COMMAND --help tells of each.")
	fmt.Fprintln(w, "colonnade manual prints the manual page, colonnade --version which build this is, and")
	fmt.Fprintln(w, "colonnade complete bash, zsh or fish what lets that shell complete commands and flags.")
	fmt.Fprintln(w, "Stacks fall, lamps burn, flashing pictures and loud sound can harm: see the cautions in the README.")
}

// usage is the line that shows how a command is written.
func (c command) usage() string {
	line := "colonnade " + c.name
	if flags, _ := c.prepare(streams{io.Discard, io.Discard}); flags.HasFlags() {
		line += " [flags]"
	}
	return strings.TrimSpace(line + " " + c.args)
}

// help prints what a command does, its flags and an example.
func help(w io.Writer, c command, flags *pflag.FlagSet) {
	fmt.Fprintf(w, "colonnade %s: %s\n\nusage: %s\n", c.name, c.short, c.usage())
	if flags.HasFlags() {
		fmt.Fprintln(w)
	}
	var left, right []string
	width := 0
	flags.VisitAll(func(f *pflag.Flag) {
		value, usage := flagText(f)
		name := "    --" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", --" + f.Name
		}
		if value != "" {
			name += " " + value
			if f.DefValue != "" {
				usage += " (" + f.DefValue + ")"
			}
		}
		left, right = append(left, name), append(right, usage)
		width = max(width, len(name))
	})
	for i, name := range left {
		for n, line := range wrap(right[i], helpWidth-width-4) {
			if n > 0 {
				name = ""
			}
			fmt.Fprintf(w, "  %-*s  %s\n", width, name, line)
		}
	}
	fmt.Fprintf(w, "\nexample: %s\n", c.example)
}

// flagText is the name of a flag's value, none for a switch, and what the flag does. A flag's usage begins with that name
// in back quotes and a colon.
func flagText(f *pflag.Flag) (value, usage string) {
	value, usage = pflag.UnquoteUsage(f)
	usage = strings.TrimPrefix(usage, value+": ")
	if f.Value.Type() == "bool" {
		value = ""
	}
	return value, usage
}

// helpWidth is the width of help in letters, that of a terminal since there are any.
const helpWidth = 80

// wrap breaks a text into lines of at most width letters where it can.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}

// suggest names the nearest of names when one is near, and otherwise says fallback.
func suggest(given string, names []string, fallback string) string {
	if near := columnfile.Nearest(given, names); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return fallback
}
