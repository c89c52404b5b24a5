package cache

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestValueComesBackUnderItsKeyAlone(t *testing.T) {
	s := In(filepath.Join(t.TempDir(), "not", "there", "yet"), 1000)
	if got := s.Get("a"); got != nil {
		t.Errorf("an empty store holds %q", got)
	}
	s.Put("a", []byte("slate"))
	s.Put("b", []byte("granite"))
	s.Put("a", []byte("gneiss"))
	if a, b := s.Get("a"), s.Get("b"); string(a) != "gneiss" || string(b) != "granite" {
		t.Errorf("a is %q, b is %q", a, b)
	}
	if got := s.Get("ab"); got != nil {
		t.Errorf("a key that nothing is kept under gives %q", got)
	}
}

// TestDamagedValueIsNotThere: each byte of the file changed, and the file cut at each length.
func TestDamagedValueIsNotThere(t *testing.T) {
	s := In(t.TempDir(), 1000)
	s.Put("a", []byte("slate"))
	whole, err := os.ReadFile(s.path("a"))
	if err != nil {
		t.Fatal(err)
	}
	damage := func(data []byte) {
		t.Helper()
		if err := os.WriteFile(s.path("a"), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if got := s.Get("a"); got != nil {
			t.Errorf("%x gives %q", data, got)
		}
	}
	for i := range whole {
		changed := bytes.Clone(whole)
		changed[i] ^= 1
		damage(changed)
		damage(whole[:i])
	}
	s.Put("a", []byte("slate"))
	if got := s.Get("a"); string(got) != "slate" {
		t.Errorf("put anew it gives %q", got)
	}
}

func TestStoreStaysWithinItsLimitAndDropsWhatWasUsedLongestAgo(t *testing.T) {
	s := In(t.TempDir(), 400) // of values of 100 bytes with their sums it holds three
	value := bytes.Repeat([]byte{7}, 68)
	for i, key := range []string{"a", "b", "c"} {
		s.Put(key, value)
		long := time.Now().Add(time.Duration(i-10) * time.Hour)
		if err := os.Chtimes(s.path(key), long, long); err != nil {
			t.Fatal(err)
		}
	}
	s.Get("a") // the oldest is used
	s.Put("d", value)
	s.Put("e", value)
	for key, want := range map[string]bool{"a": true, "b": false, "c": true, "d": true, "e": true} {
		if got := s.Get(key) != nil; got != want {
			t.Errorf("%s is there: %v", key, got)
		}
	}
	s.Put("f", make([]byte, 400))
	if s.Get("f") != nil || s.Get("a") == nil {
		t.Error("a value larger than the store is kept, or has driven out others")
	}
}

func TestStoreThatCannotBeUsedKeepsNothing(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, s := range []Store{{}, In(file, 1000), In(filepath.Join(file, "below"), 1000), In(t.TempDir(), 0)} {
		s.Put("a", []byte("slate"))
		if got := s.Get("a"); got != nil {
			t.Errorf("%+v gives %q", s, got)
		}
	}
	s := In(t.TempDir(), 1000)
	if err := os.Mkdir(s.path("a"), 0o700); err != nil {
		t.Fatal(err)
	}
	s.Put("a", []byte("slate"))
	if got := s.Get("a"); got != nil {
		t.Errorf("a folder in the value's place gives %q", got)
	}
}

// TestManyWritersLeaveAWholeValue, and no temporary file.
func TestManyWritersLeaveAWholeValue(t *testing.T) {
	s := In(t.TempDir(), 1<<20)
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Go(func() {
			for range 5 {
				s.Put("a", bytes.Repeat([]byte{byte(i)}, 5000))
				if got := s.Get("a"); len(got) != 5000 || bytes.Count(got, got[:1]) != 5000 {
					t.Error("a value is torn")
				}
			}
		})
	}
	wait.Wait()
	entries, err := os.ReadDir(s.folder)
	if err != nil || len(entries) != 1 || strings.HasPrefix(entries[0].Name(), "new-") {
		t.Errorf("left behind: %v, %v", entries, err)
	}
}

func TestUserStoreLiesInTheCacheFolder(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("XDG_CACHE_HOME", folder)
	t.Setenv("HOME", folder)
	t.Setenv("LocalAppData", folder)
	s := User("cairns", 1000)
	if s.Put("a", []byte("slate")); string(s.Get("a")) != "slate" || !strings.HasPrefix(s.folder, folder) || filepath.Base(s.folder) != "cairns" {
		t.Errorf("the store is in %s", s.folder)
	}
}
