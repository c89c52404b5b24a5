package main

import (
	"fmt"
	"strings"
)

// The scripts hold all they need and never start the program: a shell stays quick on a busy machine, and a script
// fits the program it came with.

// bashCompletion is the script for bash 3.2 and later. Where it offers nothing of its own, bash offers files; where none
// belong, it says so to a bash that can be told (4.0).
func bashCompletion(commands []completed) string {
	var b strings.Builder
	b.WriteString(`# Lets bash complete the commands and flags of colonnade. Written by: colonnade complete bash
_colonnade() {
  local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} words='' kind=words
  # bash takes --light=linear for three words.
  if [[ $current == '=' ]]; then
    current=''
  elif [[ $before == '=' ]]; then
    before=${COMP_WORDS[COMP_CWORD-2]}
  fi
  COMPREPLY=()
  case "${COMP_WORDS[1]} $before" in
`)
	for _, c := range commands {
		for _, f := range c.flags {
			if !f.takes {
				continue
			}
			var patterns []string
			for _, name := range f.names() {
				patterns = append(patterns, quoted(c.name+" "+name))
			}
			fmt.Fprintf(&b, "  %s) %s ;;\n", strings.Join(patterns, " | "), bashValue(f.value))
		}
	}
	fmt.Fprintf(&b, `  *)
    if ((COMP_CWORD == 1)); then
      words=%s
    elif [[ $current == -* ]]; then
      case ${COMP_WORDS[1]} in
`, quoted(strings.Join(append(commandNames(commands), "--help", "--version"), " ")))
	for _, c := range commands {
		var names []string
		for _, f := range c.flags {
			names = append(names, "--"+f.long)
		}
		if len(names) > 0 {
			fmt.Fprintf(&b, "      %s) words=%s ;;\n", c.name, quoted(strings.Join(names, " ")))
		}
	}
	b.WriteString("      esac\n    else\n      case ${COMP_WORDS[1]} in\n")
	for _, c := range commands {
		fmt.Fprintf(&b, "      %s) %s ;;\n", c.name, bashValue(c.argument))
	}
	b.WriteString(`      esac
    fi
    ;;
  esac
  case $kind in
  folders) compopt +o default -o dirnames 2>/dev/null ;;
  words)
    compopt +o default 2>/dev/null
    COMPREPLY=($(compgen -W "$words" -- "$current"))
    ;;
  esac
}
complete -o default -F _colonnade colonnade
`)
	return b.String()
}

func bashValue(v completedValue) string {
	switch {
	case len(v.words) > 0:
		return "words=" + quoted(strings.Join(v.words, " "))
	case v.folders:
		return "kind=folders"
	case v.files:
		return "kind=files"
	}
	return "words=''"
}

// zshCompletion is the script for zsh: a file of its function path, or one to be sourced after compinit.
func zshCompletion(commands []completed) string {
	var b strings.Builder
	b.WriteString(`#compdef colonnade
# Lets zsh complete the commands and flags of colonnade. Written by: colonnade complete zsh
_colonnade() {
  local command=$words[2]
  local -a commands
  commands=(
`)
	for _, c := range commands {
		fmt.Fprintf(&b, "    %s\n", quoted(c.name+":"+strings.ReplaceAll(c.short, `\`, `\\`)))
	}
	b.WriteString(`  )
  if ((CURRENT == 2)); then
    if [[ $PREFIX == -* ]]; then
      compadd -- --help --version
    else
      _describe command commands
    fi
    return
  fi
  shift words
  ((CURRENT--))
  case $command in
`)
	for _, c := range commands {
		fmt.Fprintf(&b, "  %s)\n    _arguments -s -S", c.name)
		for _, f := range c.flags {
			// All names of a flag exclude each other; a value stands beside a short name or after it, beside a long one or after =.
			names := quoted("--" + f.long)
			short, long := "", ""
			if f.takes {
				short, long = "+", "="
				names = quoted("--" + f.long + "=")
			}
			if f.short != "" {
				names = fmt.Sprintf("'(-%s --%s)'{-%s%s,--%s%s}", f.short, f.long, f.short, short, f.long, long)
			}
			spec := "[" + strings.NewReplacer(`\`, `\\`, "[", `\[`, "]", `\]`).Replace(f.usage) + "]"
			if f.takes {
				spec += zshValue(f.value)
			}
			fmt.Fprintf(&b, " \\\n      %s%s", names, quoted(spec))
		}
		if c.argument.name != "" {
			place := "1"
			if c.several {
				place = "*"
			}
			fmt.Fprintf(&b, " \\\n      %s", quoted(place+zshValue(c.argument)))
		}
		b.WriteString("\n    ;;\n")
	}
	b.WriteString(`  esac
}
if [[ $funcstack[1] == _colonnade ]]; then
  _colonnade "$@"
else
  compdef _colonnade colonnade
fi
`)
	return b.String()
}

func zshValue(v completedValue) string {
	action := " "
	switch {
	case len(v.words) > 0:
		action = "(" + strings.Join(v.words, " ") + ")"
	case v.folders:
		action = "_files -/"
	case v.files:
		action = "_files"
	}
	return ":" + strings.ReplaceAll(v.name, ":", `\:`) + ":" + action
}

// fishCompletion is the script for fish 3.0 and later.
func fishCompletion(commands []completed) string {
	var b strings.Builder
	b.WriteString(`# Lets fish complete the commands and flags of colonnade. Written by: colonnade complete fish
function __colonnade_first
    test (count (commandline -opc)) -eq 1
end
function __colonnade_after
    set -l words (commandline -opc)
    test (count $words) -ge 2; and test $words[2] = $argv[1]
end
complete -c colonnade -f
complete -c colonnade -n __colonnade_first -l help -d 'tells of the commands'
complete -c colonnade -n __colonnade_first -l version -d 'tells which build this is'
`)
	for _, c := range commands {
		fmt.Fprintf(&b, "complete -c colonnade -n __colonnade_first -a %s -d %s\n", c.name, fishQuoted(c.short))
	}
	for _, c := range commands {
		within := "complete -c colonnade -n '__colonnade_after " + c.name + "'"
		for _, f := range c.flags {
			line := within
			if f.short != "" {
				line += " -s " + f.short
			}
			line += " -l " + f.long
			if f.takes {
				line += fishValue(f.value)
			}
			fmt.Fprintf(&b, "%s -d %s\n", line, fishQuoted(f.usage))
		}
		switch v := c.argument; {
		case v.files:
			fmt.Fprintf(&b, "%s -F\n", within)
		case v.folders:
			fmt.Fprintf(&b, "%s -a '(__fish_complete_directories)'\n", within)
		case len(v.words) > 0:
			fmt.Fprintf(&b, "%s -a %s\n", within, fishQuoted(strings.Join(v.words, " ")))
		}
	}
	return b.String()
}

func fishValue(v completedValue) string {
	switch {
	case len(v.words) > 0:
		return " -x -a " + fishQuoted(strings.Join(v.words, " "))
	case v.folders:
		return " -x -a '(__fish_complete_directories)'"
	case v.files:
		return " -r -F"
	}
	return " -x"
}

func commandNames(commands []completed) (names []string) {
	for _, c := range commands {
		names = append(names, c.name)
	}
	return names
}

// quoted is a text in the single quotes of bash and zsh.
func quoted(text string) string { return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'" }

// fishQuoted is a text in the single quotes of fish, in which a backslash escapes.
func fishQuoted(text string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(text) + "'"
}
