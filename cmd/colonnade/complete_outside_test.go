package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// tool is a program's path, without which the test fails and names the Debian package.
func tool(t *testing.T, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%v; install the Debian package %s", err, debian)
	}
	return path
}

// TestOutsideManualIsSoundRoff has mandoc and groff judge the manual page, and man show it.
func TestOutsideManualIsSoundRoff(t *testing.T) {
	if !outside(t) {
		return
	}
	page := filepath.Join(t.TempDir(), "colonnade.1")
	if err := os.WriteFile(page, []byte(manual()), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, judge := range [][]string{
		{tool(t, "mandoc", "mandoc"), "-Tlint", "-W", "error", page},
		{tool(t, "groff", "groff"), "-man", "-ww", "-z", page},
	} {
		if told, err := exec.Command(judge[0], judge[1:]...).CombinedOutput(); err != nil || len(told) > 0 {
			t.Errorf("%s: %v\n%s", judge[0], err, told)
		}
	}
	shown, err := exec.Command("mandoc", "-Tascii", "-Owidth=200", page).Output()
	if err != nil {
		t.Fatal(err)
	}
	text := string(shown)
	for i := strings.IndexByte(text, '\b'); i > 0; i = strings.IndexByte(text, '\b') { // bold and underlined letters are struck twice
		text = text[:i-1] + text[i+1:]
	}
	for _, want := range []string{"colonnade render [flags] FILE", "-o, --output FOLDER", "--shard K/N", "colonnade render -o frames columns.toml"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not show %q", want)
		}
	}
}

// offered are the words that complete a command line, as each shell offers them.
var offered = []struct {
	line []string
	want []string
}{
	{[]string{"rend"}, []string{"render"}},
	{[]string{"help", "ver"}, []string{"verify"}},
	{[]string{"complete", ""}, []string{"bash", "fish", "zsh"}},
	{[]string{"render", "--lig"}, []string{"--light"}},
	{[]string{"render", "--light", ""}, []string{"encoded", "linear"}},
	{[]string{"render", "--motion", "di"}, []string{"dissolve"}},
	{[]string{"render", "--chroma", "42"}, []string{"420"}},
	{[]string{"render", "--steady", "light,"}, []string{"light,shift"}},
	{[]string{"render", "--fps", ""}, nil},
	{[]string{"plan", "--light"}, nil},
	{[]string{"plan", ""}, nil},
}

// TestOutsideBashCompletes calls the function that bash was given for the program, as bash does: complete -F, with the
// words in COMP_WORDS (bash(1), Programmable Completion). compopt is noted rather than run: it has its meaning on a terminal only.
func TestOutsideBashCompletes(t *testing.T) {
	if !outside(t) {
		return
	}
	script := bashCompletion(completions()) + `
compopt() { options="$*"; }
ask() {
  COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)) COMPREPLY=() options=
  [[ $(complete -p colonnade) =~ ^complete\ -o\ default\ -F\ ([^ ]+)\ colonnade$ ]] || exit 1
  "${BASH_REMATCH[1]}" colonnade "${@:$#}" "${@:$#-1:1}"
  printf '%s;%s\n' "${COMPREPLY[*]}" "$options"
}
`
	const folders, nothing, files = "+o default -o dirnames", "+o default", ""
	var wants []string
	ask := func(line []string, replies []string, options string) {
		script += "ask colonnade"
		for _, word := range line {
			script += " " + quoted(word)
		}
		script += "\n"
		wants = append(wants, fmt.Sprintf("%q: %s;%s", line, strings.Join(replies, " "), options))
	}
	for _, c := range completions() {
		ask([]string{c.name[:len(c.name)-1]}, []string{c.name}, nothing)
		for _, f := range c.flags {
			if !f.takes {
				continue
			}
			for _, name := range f.names() {
				switch v := f.value; {
				case v.folders:
					ask([]string{c.name, name, "fra"}, nil, folders)
				case v.files:
					ask([]string{c.name, name, "lev"}, nil, files)
				default:
					ask([]string{c.name, name, ""}, v.words, nothing)
				}
			}
		}
	}
	for _, row := range offered {
		replies := slices.Clone(row.want)
		if slices.Contains(replies, "linear") || slices.Contains(replies, "fish") {
			continue // in the order of the table, which the flags above hold
		}
		ask(row.line, replies, nothing)
	}
	ask([]string{"render", "--light", "="}, []string{"linear", "encoded"}, nothing)
	ask([]string{"render", "--light", "=", "e"}, []string{"encoded"}, nothing)
	ask([]string{"render", "--output", "=", "fra"}, nil, folders)
	ask([]string{"render", "col"}, nil, files)
	ask([]string{"verify", "fra"}, nil, folders)

	folder := t.TempDir()
	path := filepath.Join(folder, "ask.bash")
	if err := os.WriteFile(path, []byte(script), 0o644); err != nil {
		t.Fatal(err)
	}
	answers, err := exec.Command(tool(t, "bash", "bash"), path).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(string(answers), "\n"), "\n")
	if len(lines) != len(wants) {
		t.Fatalf("%d answers to %d questions:\n%s", len(lines), len(wants), answers)
	}
	for i, want := range wants {
		line, reply, _ := strings.Cut(want, ": ")
		if lines[i] != reply {
			t.Errorf("%s: %q, want %q", line, lines[i], reply)
		}
	}
}

// TestOutsideFishCompletes asks fish itself (complete -C, complete(1) of fish).
func TestOutsideFishCompletes(t *testing.T) {
	if !outside(t) {
		return
	}
	fish := tool(t, "fish", "fish")
	folder := t.TempDir()
	path := filepath.Join(folder, "colonnade.fish")
	if err := os.WriteFile(path, []byte(fishCompletion(completions())), 0o644); err != nil {
		t.Fatal(err)
	}
	if told, err := exec.Command(fish, "-n", path).CombinedOutput(); err != nil {
		t.Fatalf("fish -n: %v\n%s", err, told)
	}
	if err := os.Mkdir(filepath.Join(folder, "frames"), 0o755); err != nil {
		t.Fatal(err)
	}
	rows := append(slices.Clone(offered), []struct{ line, want []string }{
		{[]string{"verify", "fra"}, []string{"frames/"}},
		{[]string{"verify", "colonnade.f"}, nil},
		{[]string{"render", "colonnade.f"}, []string{"colonnade.fish"}},
		{[]string{"render", "-o", ""}, []string{"frames/"}},
		{[]string{"render", "--levels", "colonnade.f"}, []string{"colonnade.fish"}},
		{[]string{"render", "--motion=di"}, []string{"--motion=dissolve"}},
	}...)
	questions := "source colonnade.fish\n"
	for _, row := range rows {
		questions += "complete -C " + fishQuoted("colonnade "+strings.Join(row.line, " ")) + "; echo ==\n"
	}
	command := exec.Command(fish, "--no-config", "-c", questions)
	command.Dir = folder
	command.Env = append(os.Environ(), "HOME="+folder)
	answers, err := command.Output()
	if err != nil {
		t.Fatal(err)
	}
	parts := strings.Split(string(answers), "==\n")
	if len(parts) != len(rows)+1 {
		t.Fatalf("%d answers to %d questions:\n%s", len(parts)-1, len(rows), answers)
	}
	for i, row := range rows {
		var got []string
		for line := range strings.Lines(parts[i]) {
			word, _, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
			got = append(got, word)
		}
		slices.Sort(got)
		if !slices.Equal(got, row.want) {
			t.Errorf("%q: %q, want %q", row.line, got, row.want)
		}
	}
}

// typed are lines as someone types them, with the key that completes where it says so, and the arguments a program gets.
const completeKey = "\t"

var typed = []struct{ line, bash, zsh string }{
	{"rend" + completeKey + "x", "<render><x>", ""},
	{"render --lig" + completeKey + "lin" + completeKey, "<render><--light><linear>", "<render><--light=linear>"},
	{"render --motion=d" + completeKey, "<render><--motion=dissolve>", ""},
	{"render -o fra" + completeKey, "<render><-o><frames/>", "<render><-o><frames>"},
	{"render my" + completeKey, "<render><my columns.toml>", ""},
	{"render --photos=fra" + completeKey, "<render><--photos=frames/>", "<render><--photos=frames>"},
	{"render --fps my" + completeKey, "<render><--fps><my>", ""},
	{"render --levels my" + completeKey, "<render><--levels><my columns.toml>", ""},
	{"complete fi" + completeKey, "<complete><fish>", ""},
	{"--ver" + completeKey, "<--version>", ""},
}

// TestOutsideTypedLinesAreCompleted types into a bash and a zsh on a terminal of their own, which zsh provides (zpty,
// zshmodules(1)). A line's key presses wait in the terminal until the shell reads them, so nothing depends on time.
func TestOutsideTypedLinesAreCompleted(t *testing.T) {
	if !outside(t) {
		return
	}
	zsh := tool(t, "zsh", "zsh")
	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "frames"), 0o755); err != nil {
		t.Fatal(err)
	}
	scripts := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(scripts, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	if err := os.WriteFile(filepath.Join(folder, "my columns.toml"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	const shows = "\ncolonnade() { printf 'got:'; printf '<%s>' \"$@\"; echo; }\n"
	bashScript := put("start.bash", "bind 'set enable-bracketed-paste off'\n"+bashCompletion(completions())+shows)
	zshScript := put("start.zsh", "autoload -Uz compinit; compinit -D -u\n"+zshCompletion(completions())+shows)
	if told, err := exec.Command(zsh, "-n", zshScript).CombinedOutput(); err != nil {
		t.Fatalf("zsh -n: %v\n%s", err, told)
	}
	typist := put("type.zsh", `zmodload zsh/zpty
zpty shell "$1"
shift
for line in "$@"; do zpty -w shell "$line"; done
while zpty -r shell out; do print -rn -- "$out"; done
`)
	for _, shell := range []struct{ name, start, begin string }{
		{"bash", tool(t, "bash", "bash") + " --norc --noprofile -i", "PS1=; source " + bashScript},
		{"zsh", zsh + " -f -i", "PS1=; unsetopt prompt_sp prompt_cr; source " + zshScript},
	} {
		arguments := []string{"-f", typist, shell.start, shell.begin}
		for _, row := range typed {
			arguments = append(arguments, "colonnade "+row.line)
		}
		command := exec.Command(zsh, append(arguments, "exit")...)
		command.Dir = folder
		// A bare terminal, so that what is shown is what was written.
		command.Env = append(os.Environ(), "HOME="+scripts, "ZDOTDIR="+scripts, "TERM=dumb")
		shown, err := command.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s", shell.name, err, shown)
		}
		var got []string
		for line := range bytes.Lines(shown) {
			if _, arguments, found := strings.Cut(strings.TrimRight(string(line), "\r\n"), "got:"); found && strings.HasPrefix(arguments, "<") {
				got = append(got, arguments)
			}
		}
		if len(got) != len(typed) {
			t.Fatalf("%s: %d lines of %d:\n%s", shell.name, len(got), len(typed), shown)
		}
		for i, row := range typed {
			want := row.bash
			if shell.name == "zsh" && row.zsh != "" {
				want = row.zsh
			}
			if got[i] != want {
				t.Errorf("%s: colonnade %q gives %s, want %s", shell.name, row.line, got[i], want)
			}
		}
	}
}
