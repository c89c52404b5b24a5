package sequence

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// In the bubble of synctest the clock goes on when all wait: nothing here takes time.
func TestWhatPassesIsWaitedForAndWhatLastsIsTold(t *testing.T) {
	busy, broken := errors.New("busy"), errors.New("broken")
	passing := func(err error) bool { return errors.Is(err, busy) }
	for _, row := range []struct {
		name   string
		errors []error // one a try, the last for all that follow
		tries  int
		want   error
	}{
		{"it works", []error{nil}, 1, nil},
		{"it lasts", []error{broken}, 1, broken},
		{"it passes", []error{busy, busy, nil}, 3, nil},
		{"it passes, and then another lasts", []error{busy, broken}, 2, broken},
		{"it never passes", []error{busy}, passingTries, busy},
	} {
		synctest.Test(t, func(t *testing.T) {
			tries, begun := 0, time.Now()
			err := patiently(passing, func() error {
				tries++
				return row.errors[min(tries, len(row.errors))-1]
			})
			if err != row.want || tries != row.tries || time.Since(begun) != time.Duration(row.tries-1)*passingPause {
				t.Errorf("%s: %v after %d tries in %v, want %v after %d", row.name, err, tries, time.Since(begun), row.want, row.tries)
			}
		})
	}
}
