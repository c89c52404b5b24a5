package sequence

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"
	"strings"
	"time"
)

// Two kinds of lock keep processes apart in one folder. The short lock, lockName itself, is held while the
// record is read and replaced and while claims are looked at. A claim is a lock held for the whole of a Write;
// its file is named after the frames, the process and the piece, so that anyone can read whose it is. Claims of
// one piece that share no frame live side by side. The kernel frees both when a process ends, however it ends.

// claim is what a claim's file name says.
type claim struct {
	frames  span
	process int
	piece   uint64 // a sum of record.piece
}

const claimPattern = lockName + "-%06d-%06d-%d-%016x"

func newClaim(frames span, piece string) claim {
	sum := fnv.New64a()
	io.WriteString(sum, piece)
	return claim{frames, os.Getpid(), sum.Sum64()}
}

func (c claim) name() string {
	return fmt.Sprintf(claimPattern, c.frames.first, c.frames.last, c.process, c.piece)
}

func parseClaim(name string) (claim, bool) {
	var c claim
	n, err := fmt.Sscanf(name, claimPattern, &c.frames.first, &c.frames.last, &c.process, &c.piece)
	return c, n == 4 && err == nil && c.name() == name
}

const (
	lockPause = 10 * time.Millisecond
	lockTries = 3000 // half a minute: the short lock is held for milliseconds
)

// lock takes a lock without waiting. Where the file system knows no locks it is as if it was free: frames are
// whole under their names all the same.
func lock(files fileSystem, name string) (release func(), err error) {
	release, err = files.Lock(name)
	if err != nil && lockless(err) {
		files.Remove(name)
		return func() {}, nil
	}
	return release, err
}

// shortly does something while no other process does such a thing in the folder.
func shortly(ctx context.Context, files fileSystem, folder string, do func() error) error {
	for range lockTries {
		release, err := lock(files, join(folder, lockName))
		if err == nil {
			defer release()
			return do()
		}
		if !errors.Is(err, errLocked) {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(lockPause):
		}
	}
	return fmt.Errorf("another process holds %s; find and stop it", lockName)
}

// liveClaims are the claims in the folder whose process lives, but for one. It removes the files of the others. The short
// lock must be held.
func liveClaims(files fileSystem, folder string, but string) ([]claim, error) {
	entries, err := files.List(folder)
	if err != nil {
		return nil, err
	}
	var live []claim
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), lockName) || e.Name() == but {
			continue
		}
		c, ok := parseClaim(e.Name())
		if !ok {
			continue
		}
		release, err := lock(files, join(folder, e.Name()))
		switch {
		case err == nil:
			release()
		case errors.Is(err, errLocked):
			live = append(live, c)
		default:
			return nil, err
		}
	}
	return live, nil
}

// take takes the claim's frames for this process. Processes that write side by side must write one piece, since
// a folder has one record. The short lock must be held.
func (c claim) take(files fileSystem, folder string) (release func(), err error) {
	live, err := liveClaims(files, folder, "")
	if err != nil {
		return nil, err
	}
	for _, other := range live {
		switch {
		case other.frames.overlaps(c.frames):
			return nil, InUseError{folder, other.process, fmt.Sprintf("writes frames %v there", other.frames)}
		case other.piece != c.piece:
			return nil, InUseError{folder, other.process, "writes another piece there"}
		}
	}
	return lock(files, join(folder, c.name()))
}
