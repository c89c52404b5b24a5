package song

import (
	"errors"
	"fmt"
	"io"
)

// windowSize is how many bytes of a file are held at a time. It is more than the longest Ogg page or MP3 frame.
const windowSize = 128 << 10

// window looks at a file through a buffer, from front to back. Small steps back cost nothing.
type window struct {
	r      io.ReaderAt
	end    int64 // nothing is looked at from this byte on
	at     int64 // byte of the file at which the buffer begins
	buffer []byte
}

func newWindow(r io.ReaderAt, end int64) *window {
	return &window{r: r, end: end, buffer: make([]byte, 0, min(max(0, end), windowSize))}
}

// peek gives n bytes from byte at on, or those up to the end where it is nearer. n is at most windowSize. The
// bytes are valid until the next peek and are not to be written to.
func (w *window) peek(at int64, n int) ([]byte, error) {
	n = int(min(int64(n), max(0, w.end-at)))
	if at < w.at || at+int64(n) > w.at+int64(len(w.buffer)) {
		w.at = at
		w.buffer = w.buffer[:min(int64(cap(w.buffer)), max(0, w.end-at))]
		if err := readFull(w.r, w.buffer, at); err != nil {
			w.buffer = w.buffer[:0]
			return nil, err
		}
	}
	from := at - w.at
	return w.buffer[from : from+int64(n)], nil
}

// readFull fills p from byte at on. A file that ends before is an error: its size was asked for earlier.
func readFull(r io.ReaderAt, p []byte, at int64) error {
	n, err := r.ReadAt(p, at)
	if n == len(p) {
		return nil
	}
	if err == nil || err == io.EOF {
		return unread{fmt.Errorf("got shorter while it was read and now ends at byte %d; let the program that writes it finish first", at+int64(n))}
	}
	return unread{fmt.Errorf("cannot be read at byte %d: %w; check the disk or copy the song again", at+int64(n), withoutPath(err))}
}

// unread is a failure to read what the file has. It says what to do by itself, and tells nothing about the file's content.
type unread struct{ error }

func (u unread) Unwrap() error { return u.error }

func isUnread(err error) bool {
	var u unread
	return errors.As(err, &u)
}
