package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"
)

func manualCommand() command {
	return command{
		name: "manual", args: "", hidden: true,
		short:   "prints the manual page, for man(1)",
		example: "colonnade manual | man -l -",
		setup: func(_ *pflag.FlagSet, out streams) func([]string) error {
			return func(args []string) error {
				if len(args) > 0 {
					return inputf("manual: %q is one thing too many; it takes none, see colonnade manual --help", args[0])
				}
				_, err := io.WriteString(out.stdout, manual())
				return err
			}
		},
	}
}

// manual is the manual page in the man macros of roff (man(7)), made of the table of commands that help reads. The same
// program gives the same page on every machine, so it bears no date.
func manual() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line(`.TH COLONNADE 1 "" "colonnade %s" "User Commands"`, roff(Version))
	line(".SH NAME\ncolonnade \\- plays stacks of objects in photographs by a song")
	line(".SH SYNOPSIS")
	for i, c := range commands() {
		if i > 0 {
			line(".br")
		}
		line(".B colonnade %s", roff(c.name))
		if rest := strings.TrimPrefix(c.usage(), "colonnade "+c.name); rest != "" {
			line("%s", roff(strings.TrimSpace(rest)))
		}
	}
	line(".SH DESCRIPTION")
	for i, paragraph := range manualDescription {
		if i > 0 {
			line(".PP")
		}
		line("%s", roff(paragraph))
	}
	line(".SH COMMANDS")
	for _, c := range commands() {
		line(".SS %s", roff(c.name))
		line("%s\n.PP", roff(sentence(c.short)))
		line(".B %s", roff(c.usage()))
		flags, _ := c.prepare(streams{io.Discard, io.Discard})
		flags.VisitAll(func(f *pflag.Flag) { line("%s", manualFlag(f)) })
		line(".PP\nExample:\n.PP\n.RS\n.nf\n%s\n.fi\n.RE", roff(c.example))
	}
	for _, section := range []struct {
		title string
		rows  [][2]string
	}{{"EXIT STATUS", manualStatuses}, {"ENVIRONMENT", manualEnvironment}, {"FILES", manualFiles}, {"SIGNALS", manualSignals}} {
		line(".SH %s", section.title)
		for _, row := range section.rows {
			line(".TP\n.B %s\n%s", roff(row[0]), roff(row[1]))
		}
	}
	line(".SH CAUTIONS\n%s", roff(manualCautions))
	return b.String()
}

var manualDescription = []string{
	"A maker photographs a still scene, adding one object to every stack between photos. A song plays the stacks: each " +
		"column follows one part of it, and for each video frame the column's photo is chosen by the loudness of that part, " +
		"cut out with a feathered mask and laid over a base plate. The frames are numbered PNG files, which any encoder can join with the song.",
	"FILE is a column file, columns.toml by custom, in the syntax of TOML. It names the photos, the song and the columns; a flag of the same name wins over its key.",
	"Results go to standard output, all else to standard error. colonnade COMMAND --help tells of one command, colonnade --version which build this is.",
}

var manualStatuses = [][2]string{
	{"0", "Done."},
	{"1", "The work failed."},
	{"2", "The command line or an input is wrong, and nothing was written."},
	{"3", "check or verify found a fault."},
	{"130, 143", "Stopped by a signal; the same command goes on from there."},
}

var manualEnvironment = [][2]string{
	{"COLONNADE_CACHE", "off: remember no songs, and hear each one anew."},
}

var manualFiles = [][2]string{
	{"columns.toml", "The column file."},
	{"frame_000001.png", "The first frame; frame n is shown from (n-1)/fps to n/fps seconds of the song."},
	{"sequence.json", "Beside the frames: all that an encoder needs to know, and how far they are safely on disk."},
}

var manualSignals = [][2]string{
	{"SIGINT, SIGTERM, SIGHUP", "render stops after the frames in hand; a second signal stops it at once. No frame is left in part."},
	{"SIGUSR1", "render says where it stands, on systems that have this signal."},
}

const manualCautions = "Stacks fall, lamps burn, flashing pictures and loud sound can harm: see the cautions in the README. Nothing that " +
	"colonnade says of flashing is a certificate: broadcasters' rules and qualified testing decide."

// manualFlag is a flag's paragraph.
func manualFlag(f *pflag.Flag) string {
	value, usage := flagText(f)
	names := "--" + f.Name
	if f.Shorthand != "" {
		names = "-" + f.Shorthand + ", " + names
	}
	heading := ".B " + roff(names)
	if value != "" {
		// Bold names, then the value in italics.
		heading = fmt.Sprintf(".BI %s %s", roffArgument(names+" "), roffArgument(value))
		preset := f.DefValue
		if f.Name == "jobs" { // it is told by the machine
			preset = "every core"
		}
		if preset != "" {
			usage += " (" + preset + ")"
		}
	}
	return ".TP\n" + heading + "\n" + roff(sentence(usage))
}

// sentence is a text of the help as a sentence.
func sentence(text string) string {
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// roff is a text that stands for itself in a roff page. Every hyphen is one that can be copied and searched for.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`, "~", `\(ti`, "^", `\(ha`, "`", `\(ga`).Replace(text)
	if strings.HasPrefix(text, ".") || strings.HasPrefix(text, "'") {
		text = `\&` + text
	}
	return text
}

// roffArgument is a text as one argument of a macro.
func roffArgument(text string) string {
	return `"` + strings.ReplaceAll(roff(text), `"`, `\(dq`) + `"`
}
