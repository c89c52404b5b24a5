package main

import (
	"errors"
	"fmt"
	"testing"

	"colonnade/compose/sequence"
)

// A photo that can not be decoded is a wrong input as long as nothing has been written.
func TestAPhotoThatFailsInTheMidstOfWorkIsAFailure(t *testing.T) {
	failed := fmt.Errorf("frame 21: %w", input(errors.New("photos: p.png is a damaged PNG; copy or export it again")))
	for _, test := range []struct {
		summary sequence.Summary
		want    int
	}{
		{sequence.Summary{Kept: 20}, statusInput},
		{sequence.Summary{Kept: 20, Written: 1}, statusFailed},
		{sequence.Summary{Repeated: 1}, statusFailed},
	} {
		var status statusError
		err := writeError(failed, test.summary, nil)
		if !errors.As(err, &status) || status.status != test.want || err.Error() != failed.Error() {
			t.Errorf("%+v: %v with status %d, want %d", test.summary, err, status.status, test.want)
		}
	}
}
