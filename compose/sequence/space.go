package sequence

import (
	"fmt"
)

// room refuses to begin when the disk cannot hold the frames. Their size is that of the first one; the ones
// they replace make room for them.
func (w *writer) room(todo []int) error {
	if len(todo) == 0 {
		return nil
	}
	if file := w.borrow(todo[0]); file != nil {
		file.Close()
		return w.system.Remove(w.path(temporary(Name(todo[0]))))
	}
	free, err := w.system.Free(w.Folder)
	if err != nil {
		return nil // not known: writing will tell
	}
	first, err := w.Coder.Append(nil, w.Tuple(todo[0]))
	if err != nil {
		return frameError{todo[0], err}
	}
	size := int64(len(first))
	var old int64
	for _, n := range todo {
		old += w.replaced[n-w.First]
	}
	distinct := int64(len(w.distinct(todo)))
	count := int64(len(todo))
	if w.copies != nil {
		count = distinct
	}
	// Those of a batch are there beside the ones they replace.
	need := max(count*size-old, min(count, int64(w.batch+w.Jobs))*size)
	if need <= free {
		return nil
	}
	other := ""
	if w.Repeats != RepeatsLink && distinct < count {
		other = fmt.Sprintf(", give --repeats link, which needs about %s,", bytesText(distinct*size))
	}
	return fmt.Errorf("%s: %d frames need about %s, %s is free; free %s%s or name a folder on another disk",
		w.Folder, len(todo), bytesText(need), bytesText(free), bytesText(need-free), other)
}

// distinct are the keys of frames that are in no file yet.
func (w *writer) distinct(todo []int) map[string]bool {
	keys := make(map[string]bool)
	for _, n := range todo {
		if key := w.keys[n-w.First]; w.source[key] == 0 {
			keys[key] = true
		}
	}
	return keys
}

func bytesText(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%d bytes", n)
}
