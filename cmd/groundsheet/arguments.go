package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"groundsheet/pack/archive"
	"groundsheet/pack/job"
	"groundsheet/tiles/measure"
)

// packFiles puts in the place of each job folder among args the packs made of
// it. What else is named stays as it is.
func packFiles(args []string) ([]string, error) {
	var all []string
	for _, arg := range args {
		if _, err := os.Stat(filepath.Join(arg, job.FileName)); err != nil && !archive.Is(arg) {
			all = append(all, arg)
			continue
		}
		packs, err := packsOfJob(arg)
		if err != nil {
			return nil, err
		}
		all = append(all, packs...)
	}
	return all, nil
}

// packsOfJob are the packs in a job folder, by name; without one it is wrong use.
func packsOfJob(dir string) ([]string, error) {
	out := filepath.Join(dir, "out")
	entries, err := os.ReadDir(out)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var packs []string
	for _, e := range entries {
		if strings.EqualFold(filepath.Ext(e.Name()), ".mbtiles") && !strings.HasPrefix(e.Name(), ".") && !e.IsDir() {
			packs = append(packs, filepath.Join(out, e.Name()))
		}
	}
	if len(packs) == 0 {
		return nil, wrongUse(fmt.Sprintf("the job in %s is not packed yet", dir), "first: groundsheet pack "+quoted(dir))
	}
	return packs, nil
}

// quoted is a path as a shell takes it.
func quoted(path string) string {
	if strings.ContainsAny(path, " \t'\"$&();") {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}

// span is a length of time that a flag takes as people write it: 30m, 2h,
// 1h30m, 90 min, 1d.
type span time.Duration

// Set reads it; what is no time above zero is refused.
func (s *span) Set(text string) error {
	d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		var age measure.Age
		if age, err = measure.ParseAge(text); err != nil {
			return fmt.Errorf("%q is no length of time: write it as 30m or 2h", text)
		}
		d = time.Duration(age)
	}
	if d <= 0 {
		return fmt.Errorf("%q is not more than nothing: write it as 30m or 2h", text)
	}
	*s = span(d)
	return nil
}

// String gives it for people, "" for none.
func (s *span) String() string {
	if *s == 0 {
		return ""
	}
	return measure.Duration(time.Duration(*s))
}

// Type names what the flag takes.
func (s *span) Type() string { return "time" }
