// Package photos finds, checks and decodes the photos of a set and brings them to the frame's size.
//
// A photo set is the numbered photos of one locked-off scene, all of one size; a photo's place in it, from 0,
// is its level.
package photos

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"unicode"
)

// extensions that a folder is searched for. What a file holds is told by its content.
var extensions = map[string]bool{".jpg": true, ".jpeg": true, ".jpe": true, ".png": true}

// Find lists the photos of a folder, or those that a glob names, in level order: by the last number in their
// names. A missing or repeated number is an error that names the files.
func Find(where string) ([]string, error) {
	files, err := list(where)
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		if other := otherPhoto(where); other != "" {
			return nil, fmt.Errorf("photos: no JPEG or PNG files in %s, but %s; export the photos as JPEG or PNG, all alike", Quote(where), Quote(other))
		}
		return nil, fmt.Errorf("photos: no JPEG or PNG files in %s; name the folder or a glob such as \"photos/*.jpg\"", Quote(where))
	}
	if err := exported(where, files); err != nil {
		return nil, err
	}
	numbers := make(map[string]string, len(files)) // number by file
	for _, file := range files {
		digits := lastNumber(filepath.Base(file))
		if digits == "" {
			return nil, fmt.Errorf("photos: %s has no number in its name; number the photos in level order, or leave it out with a glob such as \"shot-*.jpg\"", Quote(file))
		}
		numbers[file] = digits
	}
	sort.Slice(files, func(i, j int) bool {
		a, b := numbers[files[i]], numbers[files[j]]
		if len(a) != len(b) {
			return len(a) < len(b)
		}
		if a != b {
			return a < b
		}
		return files[i] < files[j]
	})
	for i := 1; i < len(files); i++ {
		before, here := numbers[files[i-1]], numbers[files[i]]
		if before == here {
			return nil, fmt.Errorf("photos: %s and %s have the same number %s; the last number in a name is the photo's place: rename or move one", Quote(files[i-1]), Quote(files[i]), here)
		}
		if next := successor(before); next != here {
			return nil, fmt.Errorf("photos: number %s is missing between %s and %s; add that photo, or renumber the files without a gap", next, Quote(files[i-1]), Quote(files[i]))
		}
	}
	return files, nil
}

// others are the files of cameras and telephones that are photos, but must be exported.
var others = map[string]bool{
	".heic": true, ".heif": true, ".hif": true, ".avif": true, ".webp": true, ".tif": true, ".tiff": true, ".dng": true, ".arw": true,
	".cr2": true, ".cr3": true, ".nef": true, ".orf": true, ".pef": true, ".raf": true, ".rw2": true,
}

// otherPhoto names a photo in a folder that holds none that can be read; "" where there is none.
func otherPhoto(folder string) string {
	entries, _ := os.ReadDir(folder)
	for _, entry := range entries {
		if name := entry.Name(); !strings.HasPrefix(name, ".") && others[strings.ToLower(filepath.Ext(name))] {
			return name
		}
	}
	return ""
}

// exported refuses a folder in which a photo of the set is still to be exported: one whose name is that of the others but for its
// number, which no JPEG or PNG has, though one has the number before it or after it. A raw file beside its JPEG is none.
func exported(folder string, files []string) error {
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return nil
	}
	type place struct{ name, number string }
	placed := func(file string) place {
		name := strings.ToLower(strings.TrimSuffix(file, filepath.Ext(file)))
		digits := strings.LastIndexAny(name, "0123456789") + 1
		return place{strings.TrimRight(name[:digits], "0123456789") + "#" + name[digits:], lastNumber(file)}
	}
	names, there, next := make(map[string]bool), make(map[string]bool), make(map[string]bool)
	for _, file := range files {
		if p := placed(filepath.Base(file)); p.number != "" {
			names[p.name], there[p.number], next[successor(p.number)] = true, true, true
		}
	}
	entries, _ := os.ReadDir(folder)
	for _, entry := range entries {
		name := entry.Name()
		if strings.HasPrefix(name, ".") || !others[strings.ToLower(filepath.Ext(name))] {
			continue
		}
		if p := placed(name); p.number != "" && names[p.name] && !there[p.number] && (next[p.number] || there[successor(p.number)]) {
			return fmt.Errorf("photos: %s is no JPEG or PNG, and no other file has its number %s; export it like the others, or leave it out with a glob such as \"photos/*.jpg\"", Quote(filepath.Join(folder, name)), p.number)
		}
	}
	return nil
}

func list(where string) ([]string, error) {
	info, err := os.Stat(where)
	if err == nil && !info.IsDir() {
		return nil, fmt.Errorf("photos: %s is a file; name the folder that holds the photos, or a glob", Quote(where))
	}
	var files []string
	if err == nil {
		entries, err := os.ReadDir(where)
		if err != nil {
			return nil, fmt.Errorf("photos: %s can not be read (%w); check its permissions", Quote(where), Cause(err))
		}
		for _, entry := range entries {
			name := entry.Name()
			if !strings.HasPrefix(name, ".") && extensions[strings.ToLower(filepath.Ext(name))] {
				files = append(files, filepath.Join(where, name))
			}
		}
		return files, nil
	}
	if !strings.ContainsAny(where, "*?[") {
		return nil, fmt.Errorf("photos: %s does not exist; name the folder that holds the photos, or a glob", Quote(where))
	}
	if n := patternFolders(where); n > maxPatternFolders {
		return nil, fmt.Errorf("photos: %s leaves %d folders open, more than %d; name the folder that holds the photos", Quote(where), n, maxPatternFolders)
	}
	found, err := filepath.Glob(where)
	if err != nil {
		return nil, fmt.Errorf("photos: %s is not a pattern (%w); a [ needs its ]", Quote(where), err)
	}
	for _, file := range found {
		if info, err := os.Stat(file); err == nil && info.Mode().IsRegular() {
			files = append(files, file)
		}
	}
	return files, nil
}

// maxPatternFolders keeps a pattern from searching a whole disk.
const maxPatternFolders = 2

// patternFolders is how many folders of a pattern's path are themselves patterns.
func patternFolders(pattern string) int {
	n := 0
	for _, part := range strings.Split(filepath.ToSlash(filepath.Dir(pattern)), "/") {
		for i := 0; i < len(part); i++ {
			if part[i] == '\\' { // what follows is meant as it stands
				i++
			} else if strings.IndexByte("*?[", part[i]) >= 0 {
				n++
				break
			}
		}
	}
	return n
}

// lastNumber is the last run of digits in a name without its extension, without leading zeros ("0" for zero);
// "" when there is none.
func lastNumber(name string) string {
	name = strings.TrimSuffix(name, filepath.Ext(name))
	end := len(name)
	for end > 0 && !isDigit(name[end-1]) {
		end--
	}
	start := end
	for start > 0 && isDigit(name[start-1]) {
		start--
	}
	if start == end {
		return ""
	}
	if digits := strings.TrimLeft(name[start:end], "0"); digits != "" {
		return digits
	}
	return "0"
}

// successor adds one to a number written in digits, of any length.
func successor(digits string) string {
	next := []byte(digits)
	for i := len(next) - 1; i >= 0; i-- {
		if next[i] != '9' {
			next[i]++
			return string(next)
		}
		next[i] = '0'
	}
	return "1" + string(next)
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// Quote is a name as it is, or in quotes where it holds what a terminal would act upon, what breaks a line or what turns the
// direction of writing.
func Quote(name string) string {
	for _, r := range name {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return strconv.Quote(name)
		}
	}
	return name
}

// Cause is the reason of a file system error without the operation and the path, which the message names.
func Cause(err error) error {
	if e, ok := err.(*os.PathError); ok {
		return e.Err
	}
	return err
}
