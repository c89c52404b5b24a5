package sequence

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"
)

// memory is a file system in memory that notes every change, so that what a power cut can leave is known: the
// data of a file that was not synced may be there, be cut, be zeros in places or be missing; a change of names
// that was not synced with its folder may be there or not, each by itself. It promises no order beyond that.
// There is one folder.
type memory struct {
	mutex        sync.Mutex
	names        map[string]*node
	locked       map[string]bool
	changes      []change
	base         map[string]*node // as it began
	cannotClone  bool
	cannotLink   bool
	free         int64 // 0: not known
	linksAtMost  int   // 0: no limit
	cloned, tied int
}

// node is a file's data, whatever its names.
type node struct {
	data  []byte
	links int
}

// change is one thing done to the file system.
type change struct {
	kind     string // "name", "write", "sync", "rename", "remove", "folder"
	node     *node
	data     []byte
	from, to string
}

func newMemory(files map[string]string) *memory {
	m := &memory{names: make(map[string]*node), locked: make(map[string]bool), base: make(map[string]*node)}
	for name, text := range files {
		m.names[name] = &node{data: []byte(text), links: 1}
		m.base[name] = m.names[name]
	}
	return m
}

func (m *memory) note(c change) { m.changes = append(m.changes, c) }

func fault(op, name string, err error) error { return &fs.PathError{Op: op, Path: name, Err: err} }

func (m *memory) MakeFolder(string) error { return nil }

func (m *memory) List(string) ([]fs.DirEntry, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	var all []fs.DirEntry
	for _, name := range slices.Sorted(maps.Keys(m.names)) {
		all = append(all, fs.FileInfoToDirEntry(memoryInfo{name, int64(len(m.names[name].data))}))
	}
	return all, nil
}

func (m *memory) Open(name string) (openFile, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	n := m.names[filepath.Base(name)]
	if n == nil {
		return nil, fault("open", name, syscall.ENOENT)
	}
	return &memoryFile{Reader: bytes.NewReader(bytes.Clone(n.data)), m: m, n: n}, nil
}

func (m *memory) Create(name string) (newFile, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	return m.create(filepath.Base(name))
}

func (m *memory) create(name string) (*memoryFile, error) {
	if m.names[name] != nil {
		return nil, fault("create", name, syscall.EEXIST)
	}
	n := &node{links: 1}
	m.names[name] = n
	m.note(change{kind: "name", node: n, to: name})
	return &memoryFile{m: m, n: n}, nil
}

func (m *memory) Rename(from, to string) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	from, to = filepath.Base(from), filepath.Base(to)
	n := m.names[from]
	if n == nil {
		return fault("rename", from, syscall.ENOENT)
	}
	if old := m.names[to]; old == n { // rename(2): two names of one file
		return nil
	} else if old != nil {
		old.links--
	}
	m.names[to] = n
	delete(m.names, from)
	m.note(change{kind: "rename", node: n, from: from, to: to})
	return nil
}

func (m *memory) Remove(name string) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	name = filepath.Base(name)
	if m.names[name] == nil {
		return fault("remove", name, syscall.ENOENT)
	}
	m.names[name].links--
	delete(m.names, name)
	m.note(change{kind: "remove", from: name})
	return nil
}

func (m *memory) Link(from, to string) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	from, to = filepath.Base(from), filepath.Base(to)
	n := m.names[from]
	switch {
	case m.cannotLink:
		return fault("link", to, syscall.EPERM)
	case n == nil:
		return fault("link", from, syscall.ENOENT)
	case m.names[to] != nil:
		return fault("link", to, syscall.EEXIST)
	case m.linksAtMost > 0 && n.links >= m.linksAtMost:
		return fault("link", to, syscall.EMLINK)
	}
	n.links++
	m.tied++
	m.names[to] = n
	m.note(change{kind: "name", node: n, to: to})
	return nil
}

func (m *memory) Clone(from, to string) (newFile, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.cannotClone {
		return nil, fault("clone", to, errors.ErrUnsupported)
	}
	n := m.names[filepath.Base(from)]
	if n == nil {
		return nil, fault("clone", from, syscall.ENOENT)
	}
	f, err := m.create(filepath.Base(to))
	if err != nil {
		return nil, err
	}
	f.write(n.data)
	m.cloned++
	return f, nil
}

func (m *memory) SyncFolder(string) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.note(change{kind: "folder"})
	return nil
}

func (m *memory) Free(string) (int64, error) {
	if m.free == 0 {
		return 0, errors.ErrUnsupported
	}
	return m.free, nil
}

func (m *memory) Lock(name string) (func(), error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	name = filepath.Base(name)
	if m.locked[name] {
		return nil, errLocked
	}
	m.locked[name] = true
	if m.names[name] == nil {
		m.create(name)
	}
	return func() {
		m.mutex.Lock()
		defer m.mutex.Unlock()
		delete(m.locked, name)
		delete(m.names, name)
		m.note(change{kind: "remove", from: name})
	}, nil
}

// memoryFile is an open file.
type memoryFile struct {
	*bytes.Reader // of a file opened for reading
	m             *memory
	n             *node
}

func (f *memoryFile) write(p []byte) {
	f.n.data = append(f.n.data, p...)
	f.m.note(change{kind: "write", node: f.n, data: bytes.Clone(p)})
}

func (f *memoryFile) Write(p []byte) (int, error) {
	f.m.mutex.Lock()
	defer f.m.mutex.Unlock()
	f.write(p)
	return len(p), nil
}

func (f *memoryFile) Sync() error {
	f.m.mutex.Lock()
	defer f.m.mutex.Unlock()
	f.m.note(change{kind: "sync", node: f.n})
	return nil
}

func (f *memoryFile) Close() error { return nil }

type memoryInfo struct {
	name string
	size int64
}

func (i memoryInfo) Name() string       { return i.name }
func (i memoryInfo) Size() int64        { return i.size }
func (i memoryInfo) Mode() fs.FileMode  { return 0o666 }
func (i memoryInfo) ModTime() time.Time { return time.Time{} }
func (i memoryInfo) IsDir() bool        { return false }
func (i memoryInfo) Sys() any           { return nil }

// files is what the folder holds now.
func (m *memory) files() map[string]string {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	all := make(map[string]string)
	for name, n := range m.names {
		all[name] = string(n.data)
	}
	return all
}

// frames is files without the locks of a process that ended.
func (m *memory) frames() map[string]string {
	all := m.files()
	maps.DeleteFunc(all, func(name, _ string) bool { return strings.HasPrefix(name, lockName) })
	return all
}

// crash is what the disk can hold when the power goes after the first count changes.
func (m *memory) crash(count int, chance *rand.Rand) map[string]string {
	durable := make(map[*node][]byte)
	pending := make(map[*node][]byte) // all that was written; its beginning is durable
	names := make(map[string]*node)
	for name, n := range m.base {
		durable[n], pending[n], names[name] = n.data, n.data, n // nothing is ever written into it
	}
	var moves []change
	move := func(c change) {
		if c.from != "" {
			delete(names, c.from)
		}
		if c.to != "" {
			names[c.to] = c.node
		}
	}
	for _, c := range m.changes[:count] {
		switch c.kind {
		case "write":
			pending[c.node] = append(pending[c.node], c.data...)
		case "sync":
			durable[c.node] = bytes.Clone(pending[c.node])
		case "folder":
			for _, c := range moves {
				move(c)
			}
			moves = nil
		default:
			moves = append(moves, c)
		}
	}
	// All moves, none, the first few, or any.
	way, some := chance.IntN(4), chance.IntN(len(moves)+1)
	for i, c := range moves {
		if way == 0 || way == 2 && i < some || way == 3 && chance.IntN(2) == 0 {
			move(c)
		}
	}
	left := make(map[string]string)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		n := names[name]
		left[name] = string(damage(durable[n], pending[n], chance))
	}
	return left
}

// damage is what the disk can hold of a file of which more was written than synced.
func damage(durable, written []byte, chance *rand.Rand) []byte {
	if len(durable) == len(written) {
		return durable
	}
	const block = 64 // the smallest piece that arrives or not
	switch chance.IntN(4) {
	case 0:
		return durable
	case 1:
		return written
	case 2: // cut
		return written[:len(durable)+chance.IntN(len(written)-len(durable)+1)]
	default: // as long as it should be, with holes
		data := bytes.Clone(written)
		for at := len(durable); at < len(data); at += block {
			if chance.IntN(2) == 0 {
				clear(data[at:min(at+block, len(data))])
			}
		}
		return data
	}
}

var _ io.ReaderAt = (*memoryFile)(nil)
