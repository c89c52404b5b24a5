package sequence

import "bytes"

// copier is how a frame is made from an earlier one, nil when repeats are written anew. It is tried out on files
// of the names to come, since what a folder can do is known only by doing it.
func (w *writer) copier(todo []int) func(from, to string) (newFile, error) {
	repeats := false
	seen := make(map[string]bool)
	for _, n := range todo {
		key := w.keys[n-w.First]
		repeats = repeats || seen[key] || w.source[key] != 0
		seen[key] = true
	}
	if !repeats {
		return nil
	}
	way := w.system.Clone
	if w.Repeats == RepeatsLink {
		way = func(from, to string) (newFile, error) { return nil, w.system.Link(from, to) }
	}
	from, to := w.path(temporary(Name(todo[0]))), w.path(temporary(Name(todo[1])))
	f, err := create(w.system, from, bytes.Repeat([]byte{1}, 1<<13)) // more than a block
	if err != nil {
		return nil // if that is a real fault, the first frame meets it again
	}
	f.Close()
	defer w.system.Remove(from)
	f, err = way(from, to)
	if err != nil {
		return nil
	}
	if f != nil {
		f.Close()
	}
	w.system.Remove(to)
	return way
}

// repeat makes those of the waiting frames whose source is in the folder, and gives back the rest.
func (w *writer) repeat(waiting []made) (copied []int, rest []made) {
	var batch []made
	for _, m := range waiting {
		from := w.source[w.keys[m.n-w.First]]
		if from == 0 {
			rest = append(rest, m)
			continue
		}
		if w.ctx.Err() != nil || w.failed.Load() != nil {
			continue
		}
		hidden := w.path(temporary(Name(m.n)))
		file, err := w.copies(w.path(Name(from)), hidden)
		if err != nil {
			// Not every frame can be copied: a file has only so many names. Then it is written anew, and the
			// next repeats are copies of this one.
			if m.file, _, err = w.write(m.n, nil); err != nil {
				w.fail(err)
				continue
			}
			w.source[w.keys[m.n-w.First]] = 0
			copied = append(copied, w.name([]made{m})...)
			continue
		}
		w.repeated.Add(1)
		if m.file = file; file != nil {
			batch = append(batch, m)
			continue
		}
		if err := w.system.Rename(hidden, w.path(Name(m.n))); err != nil {
			w.system.Remove(hidden)
			w.fail(err)
			continue
		}
		w.system.Remove(hidden) // it stays where both names were the same file's (rename(2))
		w.there[m.n-w.First] = true
		copied = append(copied, m.n)
	}
	return append(copied, w.name(batch)...), rest
}
