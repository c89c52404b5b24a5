package main

import (
	"io"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"colonnade/cmd/columnfile"
)

// shells are those that can complete commands and flags, each with what writes its script.
func shells() []shell {
	return []shell{{"bash", bashCompletion}, {"zsh", zshCompletion}, {"fish", fishCompletion}}
}

type shell struct {
	name  string
	write func(commands []completed) string
}

func shellNames() (names []string) {
	for _, s := range shells() {
		names = append(names, s.name)
	}
	return names
}

func completeCommand() command {
	return command{
		name: "complete", args: "SHELL", hidden: true,
		short:   "lets a shell complete commands and flags: bash, zsh or fish",
		example: "colonnade complete bash > ~/.local/share/bash-completion/completions/colonnade",
		setup: func(_ *pflag.FlagSet, out streams) func([]string) error {
			return func(args []string) error {
				if len(args) != 1 {
					return inputf("complete: one shell is needed, %d given; write colonnade complete bash, zsh or fish", len(args))
				}
				if err := oneOf("complete", args[0], shellNames()...); err != nil {
					return err
				}
				for _, s := range shells() {
					if s.name == args[0] {
						_, err := io.WriteString(out.stdout, s.write(completions()))
						return err
					}
				}
				return nil
			}
		},
	}
}

// flagWords are the words that a flag takes where it takes no others: what is checked, and what a shell offers.
func flagWords(flag string) []string {
	words := columnfile.Words(flag)
	switch flag {
	case "repeats":
		return []string{"auto", "write", "link"}
	case "progress":
		return []string{"auto", "plain", "json", "none"}
	case "chroma":
		return []string{"420", "444"}
	case "stream":
		return []string{"y4m"}
	case "steady":
		return append(words, strings.Join(words, ","), "none")
	}
	return words
}

// completed is what a shell needs to know of a command.
type completed struct {
	name, short string
	flags       []completedFlag
	argument    completedValue
	several     bool // arguments may follow each other
}

// completedFlag is a flag with or without a value.
type completedFlag struct {
	short, long, usage string // without dashes; short may be empty
	takes              bool   // a value
	value              completedValue
}

// names are the flag's names as they are written, the short one first.
func (f completedFlag) names() []string {
	if f.short == "" {
		return []string{"--" + f.long}
	}
	return []string{"-" + f.short, "--" + f.long}
}

// completedValue is what may stand as a value or an argument. Its zero value is something a shell can not guess, or nothing.
type completedValue struct {
	name           string // FILE
	words          []string
	files, folders bool
}

// completions are all commands, from the table that help reads.
func completions() []completed {
	list := []completed{{name: "help", short: "tells of a command"}}
	for _, c := range commands() {
		one := completed{name: c.name, short: c.short}
		flags, _ := c.prepare(streams{io.Discard, io.Discard})
		flags.VisitAll(func(f *pflag.Flag) {
			value, usage := flagText(f)
			flag := completedFlag{short: f.Shorthand, long: f.Name, usage: usage, takes: value != ""}
			if flag.takes {
				flag.value = valueOf(value, flagWords(f.Name))
			}
			one.flags = append(one.flags, flag)
		})
		one.flags = append(one.flags, completedFlag{short: "h", long: "help", usage: "tells of the command"})
		argument, _, _ := strings.Cut(c.args, ",")
		argument, several := strings.CutSuffix(argument, "...")
		switch argument {
		case "SHELL":
			one.argument = valueOf(argument, shellNames())
		default:
			one.argument = valueOf(argument, nil)
		}
		one.several = several
		list = append(list, one)
		list[0].argument.words = append(list[0].argument.words, c.name)
	}
	list[0].argument.name = "COMMAND"
	return list
}

// valueOf tells by a value's name what may stand there. Photos are a folder or a glob, a column file may stand there too.
func valueOf(name string, words []string) completedValue {
	return completedValue{name: name, words: words, folders: name == "FOLDER",
		files: slices.Contains([]string{"FILE", "PNG", "PHOTOS", "LEVEL"}, name)}
}
