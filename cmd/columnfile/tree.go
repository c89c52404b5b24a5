package columnfile

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// The file is read into a tree that keeps where each key and value stands, and each number as it was
// written: a message can then point at the fault, and 23.976 stays the text that timing.ParseRate knows.

// source is what a tree was read from: a column file, or the value of one flag.
type source struct {
	path  string // of the file, as given
	flag  string // name of the flag without dashes, "" for a file
	text  []byte
	lines []int // offset at which each line begins
}

func newSource(path string, text []byte) *source {
	s := &source{path: path, text: text, lines: []int{0}}
	for i, c := range text {
		if c == '\n' {
			s.lines = append(s.lines, i+1)
		}
	}
	return s
}

// line is the number, from 1, of the line that holds the byte at an offset.
func (s *source) line(at int) int {
	return sort.SearchInts(s.lines, at+1)
}

// where names a place for a message: file, line and column, the last two counted in characters from 1; for
// a flag, the flag.
func (s *source) where(at int) string {
	if s.flag != "" {
		return "--" + s.flag
	}
	line := s.line(at)
	return fmt.Sprintf("%s:%d:%d", printable(s.path), line, utf8.RuneCount(s.text[s.lines[line-1]:at])+1)
}

type kind int

const (
	textKind kind = iota
	integerKind
	floatKind
	boolKind
	dateKind
	listKind
	tableKind
)

// node is a value.
type node struct {
	source *source
	at     int // offset of its first byte
	kind   kind
	text   string  // of a text, what it says; of a number, a truth value or a date, how it is written
	items  []*node // of a list, in order
	table  *table  // of a table
	tables bool    // a list made of [[headers]]
}

func (n *node) where() string { return n.source.where(n.at) }

// table is a table, its keys in the order of the file.
type table struct {
	at      int // offset of its header or of its brace; 0 for the file itself
	header  bool
	entries []*entry
	index   map[string]*entry
}

type entry struct {
	key   string
	at    int // offset of the key
	value *node
}

func (t *table) entry(key string) *entry {
	if t == nil {
		return nil
	}
	return t.index[key]
}

func (t *table) value(key string) *node {
	if e := t.entry(key); e != nil {
		return e.value
	}
	return nil
}

func (t *table) add(key string, at int, value *node) {
	if t.index == nil {
		t.index = map[string]*entry{}
	}
	e := &entry{key, at, value}
	t.index[key] = e
	t.entries = append(t.entries, e)
}

// parseTree reads the whole file. What it refuses is not TOML, or sets a key twice.
func parseTree(s *source) (*table, error) {
	b := builder{source: s, root: &table{}}
	b.current = b.root
	parser := unstable.Parser{}
	parser.Reset(s.text)
	done := 0 // offset behind the last expression understood
	for b.err == nil && parser.NextExpression() {
		done = b.expression(parser.Expression())
	}
	if err := parser.Error(); err != nil {
		var fault *unstable.ParserError
		if !errors.As(err, &fault) {
			return nil, fmt.Errorf("%s: %w; correct the file", printable(s.path), err)
		}
		// The highlight is a part of the text, so that what is left of its room tells where it begins.
		at := min(max(cap(s.text)-cap(fault.Highlight), 0), len(s.text))
		return nil, syntaxMistake(s, at, b.next(done), fault.Message)
	}
	return b.root, b.err
}

// strict holds the text against the library's own decoder, which knows rules of TOML that the tree does not
// look for, such as a dotted key that reaches into a finished table.
func strict(s *source) error {
	var all map[string]any
	err := toml.Unmarshal(s.text, &all)
	if err == nil {
		return nil
	}
	where := printable(s.path)
	var fault *toml.DecodeError
	if errors.As(err, &fault) {
		line, column := fault.Position()
		if line >= 1 && line <= len(s.lines) {
			where = s.where(min(s.lines[line-1]+max(column-1, 0), len(s.text)))
		}
	}
	what := strings.TrimPrefix(err.Error(), "toml: ")
	return mistake(where, printable(what), "write each table and each key once")
}

// builder turns the library's nodes, which live only until the next expression, into the tree.
type builder struct {
	source  *source
	root    *table
	current *table // the one the last header opened
	err     error
}

// expression takes in one line or header and returns the offset behind it.
func (b *builder) expression(n *unstable.Node) int {
	if n.Kind == unstable.KeyValue {
		return b.keyValue(b.current, n)
	}
	keys := n.Key()
	t, end, at := b.root, 0, 0
	for first := true; keys.Next() && b.err == nil; first = false {
		key := keys.Node()
		end = int(key.Raw.Offset + key.Raw.Length)
		if first {
			at = bytes.LastIndexByte(b.source.text[:key.Raw.Offset], '[')
			if n.Kind == unstable.ArrayTable {
				at--
			}
		}
		if keys.IsLast() {
			t = b.open(t, string(key.Data), at, n.Kind == unstable.ArrayTable)
		} else {
			t = b.inner(t, string(key.Data), int(key.Raw.Offset))
		}
	}
	b.current = t
	end += bytes.IndexByte(b.source.text[end:], ']') + 1
	if n.Kind == unstable.ArrayTable {
		end++
	}
	return end
}

// open is the table that a header begins: a new one, or a new item of a list of tables.
func (b *builder) open(t *table, key string, at int, list bool) *table {
	value := &node{source: b.source, at: at, kind: tableKind, table: &table{at: at, header: true}}
	e := t.entry(key)
	switch {
	case e == nil && list:
		t.add(key, at, &node{source: b.source, at: at, kind: listKind, tables: true, items: []*node{value}})
	case e == nil:
		t.add(key, at, value)
	case list && e.value.tables:
		e.value.items = append(e.value.items, value)
	case !list && e.value.kind == tableKind && !e.value.table.header:
		// So far the table was only on the way to others, as a in [a.b].
		e.at, e.value.at, e.value.table.at, e.value.table.header = at, at, at, true
		return e.value.table
	default:
		b.twice(key, at, e)
	}
	return value.table
}

// inner is the table under a key that is not the last of its path; it is made where it is not there.
func (b *builder) inner(t *table, key string, at int) *table {
	e := t.entry(key)
	if e == nil {
		made := &table{at: at}
		t.add(key, at, &node{source: b.source, at: at, kind: tableKind, table: made})
		return made
	}
	if e.value.tables {
		return e.value.items[len(e.value.items)-1].table
	}
	if e.value.kind != tableKind {
		b.twice(key, at, e)
		return t
	}
	return e.value.table
}

func (b *builder) twice(key string, at int, before *entry) {
	if b.err == nil {
		remedy := "keep one of the two"
		if key == "column" {
			remedy = "begin each column with [[column]]"
		}
		b.err = mistake(b.source.where(at), fmt.Sprintf("%s is already set on line %d", quote(key), b.source.line(before.at)), remedy)
	}
}

// keyValue takes in key = value and returns the offset behind it.
func (b *builder) keyValue(t *table, n *unstable.Node) int {
	keys := n.Key()
	for keys.Next() && b.err == nil {
		key := keys.Node()
		name, at := string(key.Data), int(key.Raw.Offset)
		if !keys.IsLast() {
			t = b.inner(t, name, at)
			continue
		}
		end := int(key.Raw.Offset + key.Raw.Length)
		value, end := b.value(n.Value(), end+bytes.IndexByte(b.source.text[end:], '=')+1)
		if before := t.entry(name); before != nil {
			b.twice(name, at, before)
		} else {
			t.add(name, at, value)
		}
		return end
	}
	return int(n.Raw.Offset + n.Raw.Length)
}

// value takes in a value that begins at or after an offset, and returns the offset behind it. The library
// gives no place for a list, so the text is followed alongside.
func (b *builder) value(n *unstable.Node, at int) (*node, int) {
	at = b.next(at)
	switch n.Kind {
	case unstable.Array:
		list := &node{source: b.source, at: at, kind: listKind}
		at++
		for items := n.Children(); items.Next(); {
			var item *node
			item, at = b.value(items.Node(), at)
			list.items = append(list.items, item)
		}
		return list, b.next(at) + 1
	case unstable.InlineTable:
		inline := &node{source: b.source, at: at, kind: tableKind, table: &table{at: at, header: true}}
		at++
		for pairs := n.Children(); pairs.Next(); {
			at = b.keyValue(inline.table, pairs.Node())
		}
		return inline, b.next(at) + 1
	}
	k := dateKind
	switch n.Kind {
	case unstable.String:
		k = textKind
	case unstable.Integer:
		k = integerKind
	case unstable.Float:
		k = floatKind
	case unstable.Bool:
		k = boolKind
	}
	return &node{source: b.source, at: at, kind: k, text: string(n.Data)}, int(n.Raw.Offset + n.Raw.Length)
}

// next is the offset of the next byte that belongs to a value: behind spaces, line ends, commas and comments.
func (b *builder) next(at int) int {
	text := b.source.text
	for at < len(text) {
		switch text[at] {
		case ' ', '\t', '\r', '\n', ',':
			at++
		case '#':
			end := bytes.IndexByte(text[at:], '\n')
			if end < 0 {
				return len(text)
			}
			at += end
		default:
			return at
		}
	}
	return at
}

// mistake is the one form of every message.
func mistake(where, what, remedy string) error {
	return errors.New(where + ": " + what + "; " + remedy)
}

// longestQuote is how many characters of the user's text a message repeats.
const longestQuote = 60

// quote is the user's text in quotes, shortened, with everything that is not printable escaped.
func quote(text string) string {
	if utf8.RuneCountInString(text) > longestQuote {
		text = string([]rune(text)[:longestQuote]) + "…"
	}
	return strconv.Quote(text)
}

// printable is text as it is, or escaped where it holds what a terminal would act upon.
func printable(text string) string {
	for _, r := range text {
		if !strconv.IsPrint(r) || r == utf8.RuneError {
			quoted := strconv.Quote(text)
			return quoted[1 : len(quoted)-1]
		}
	}
	return text
}
