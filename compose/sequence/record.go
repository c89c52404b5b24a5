package sequence

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
)

const (
	recordFormat  = "colonnade sequence"
	recordVersion = 1
	// keyPrefix is how much of each key is recorded: 64 bits tell any two frames apart.
	keyPrefix = 16
	// keysPerRow keeps the record's lines short enough to read.
	keysPerRow = 8
	unknownKey = "-"
	// longestRecord bounds what is read: the longest piece's keys take 180 MB.
	longestRecord = 256 << 20
)

// document is sequence.json.
type document struct {
	Format   string   `json:"format"`
	Version  int      `json:"version"`
	Writer   string   `json:"writer"`
	Rate     string   `json:"fps"`
	Frames   int      `json:"frames"`
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	Pattern  string   `json:"pattern"`
	First    int      `json:"first"`
	Song     *song    `json:"song,omitempty"`
	MadeFrom madeFrom `json:"made_from"`
	Shards   *Shards  `json:"shards,omitempty"`
	// Safe lists the runs of frames that are whole on disk, whatever happens to the machine.
	Safe []string `json:"safe"`
	// Keys holds the beginning of each frame's key, keysPerRow frames a row, "-" where none was asked for yet.
	Keys []string `json:"keys"`
}

type song struct {
	File    string  `json:"file"`
	Start   float64 `json:"start"` // second of the song at which frame 1 begins
	Seconds float64 `json:"seconds"`
}

type madeFrom struct {
	Photos  []string `json:"photos"`
	Columns []string `json:"columns"`
	Scene   string   `json:"scene"`
	Levels  string   `json:"levels,omitempty"`
}

// record is what is known of the folder's frames. Frame n has index n-1.
type record struct {
	document
	keys []string // beginnings; empty where unknown
	safe []bool
}

func newRecord(d Description, frames int) *record {
	r := &record{
		document: document{
			Format: recordFormat, Version: recordVersion, Writer: strings.TrimSpace("colonnade " + d.Version),
			Rate: d.Rate, Frames: frames, Width: d.Width, Height: d.Height, Pattern: Pattern, First: 1,
			MadeFrom: madeFrom{Photos: d.Photos, Columns: d.Columns, Scene: d.Scene, Levels: d.Levels}, Shards: d.Shards,
		},
		keys: make([]string, frames), safe: make([]bool, frames),
	}
	if d.Song != "" {
		r.Song = &song{File: d.Song, Start: d.SongStart, Seconds: d.SongSeconds}
	}
	return r
}

// piece is one string for records of one piece, whose frames belong together. The frames' keys say the rest.
func (r *record) piece() string {
	return fmt.Sprintf("%q %d %d %d %q %q", r.Rate, r.Frames, r.Width, r.Height, r.MadeFrom.Scene, r.MadeFrom.Levels)
}

// description is what the record was made from.
func (r *record) description() Description {
	d := Description{
		Rate: r.Rate, Width: r.Width, Height: r.Height, Photos: r.MadeFrom.Photos, Scene: r.MadeFrom.Scene, Levels: r.MadeFrom.Levels,
		Columns: r.MadeFrom.Columns, Version: strings.TrimPrefix(r.Writer, "colonnade "), Shards: r.Shards,
	}
	if r.Song != nil {
		d.Song, d.SongStart, d.SongSeconds = r.Song.File, r.Song.Start, r.Song.Seconds
	}
	return d
}

// adopt takes over what another record knows of the frames outside a run, and of shards where this one says nothing.
func (r *record) adopt(other *record, but span) {
	if r.Shards == nil {
		r.Shards = other.Shards
	}
	for i := range r.keys {
		if !but.holds(i + 1) {
			r.keys[i], r.safe[i] = other.keys[i], other.safe[i]
		}
	}
}

// join adds what the record of another folder with frames of the same piece knows. A key that both know is the same in
// both, since the piece tells all keys; where it is not, frames will not agree with it.
func (r *record) join(other *record) {
	for i, key := range other.keys {
		if r.keys[i] == "" {
			r.keys[i] = key
		}
	}
	if r.Shards == nil {
		r.Shards = other.Shards
	}
}

func (r *record) encode() ([]byte, error) {
	r.Safe = make([]string, 0)
	for _, s := range spans(r.Frames, func(n int) bool { return r.safe[n-1] }) {
		r.Safe = append(r.Safe, s.String())
	}
	r.Keys = make([]string, 0, len(r.keys)/keysPerRow+1)
	var row strings.Builder
	for i, key := range r.keys {
		if key == "" {
			key = unknownKey
		}
		row.WriteString(key)
		if (i+1)%keysPerRow == 0 || i == len(r.keys)-1 {
			r.Keys = append(r.Keys, row.String())
			row.Reset()
		} else {
			row.WriteByte(' ')
		}
	}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(r.document); err != nil {
		return nil, err
	}
	return text.Bytes(), nil
}

// errNotOurs says that a sequence.json is not one that this package wrote.
var errNotOurs = errors.New("it is not one of colonnade's")

func decodeRecord(text []byte) (*record, error) {
	r := new(record)
	if err := json.Unmarshal(text, &r.document); err != nil {
		return nil, fmt.Errorf("%w (%v)", errNotOurs, err)
	}
	if r.Format != recordFormat {
		return nil, errNotOurs
	}
	if r.Version != recordVersion {
		return nil, fmt.Errorf("it has version %d, this program knows version %d", r.Version, recordVersion)
	}
	rows := (r.Frames + keysPerRow - 1) / keysPerRow
	if r.Frames < 1 || r.Frames > maxFrames || len(r.Keys) != rows || r.Pattern != Pattern || r.First != 1 || r.Width < 1 || r.Height < 1 {
		return nil, fmt.Errorf("%w (its frames, keys, pattern or size do not go together)", errNotOurs)
	}
	if c := r.Shards; c != nil && (c.Count < 1 || c.Count > maxShards || c.First < 1 || c.Last < c.First || c.Last > r.Frames) {
		return nil, fmt.Errorf("%w (its shards do not lie within its frames)", errNotOurs)
	}
	r.keys, r.safe = make([]string, 0, r.Frames), make([]bool, r.Frames)
	for _, row := range r.Keys {
		for key := range strings.FieldsSeq(row) {
			if key == unknownKey {
				key = ""
			} else if len(key) != keyPrefix {
				return nil, fmt.Errorf("%w (%.20q is no key)", errNotOurs, key)
			}
			r.keys = append(r.keys, key)
		}
	}
	if len(r.keys) != r.Frames {
		return nil, fmt.Errorf("%w (%d keys for %d frames)", errNotOurs, len(r.keys), r.Frames)
	}
	end := 0
	for _, text := range r.Safe {
		s, ok := parseSpan(text)
		if !ok || s.first <= end || s.last > r.Frames {
			return nil, fmt.Errorf("%w (%.20q is no run of its frames)", errNotOurs, text)
		}
		for n := s.first; n <= s.last; n++ {
			r.safe[n-1] = true
		}
		end = s.last
	}
	return r, nil
}

// readRecord reads the folder's record, nil when there is none.
func readRecord(files fileSystem, name string) (*record, error) {
	f, err := files.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, longestRecord))
	if err != nil {
		return nil, err
	}
	return decodeRecord(text)
}

// write replaces the record: whole under its name, or not at all. The name reaches the disk with the folder's
// next sync.
func (r *record) write(files fileSystem, folder string) error {
	text, err := r.encode()
	if err != nil {
		return err
	}
	final, hidden := join(folder, RecordName), join(folder, temporary(RecordName))
	if err := files.Remove(hidden); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := create(files, hidden, text)
	if err != nil {
		return err
	}
	if err := finish(f); err != nil {
		files.Remove(hidden)
		return err
	}
	if err := files.Rename(hidden, final); err != nil {
		files.Remove(hidden)
		return err
	}
	return nil
}
