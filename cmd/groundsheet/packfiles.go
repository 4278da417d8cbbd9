package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/pack/job"
)

// packFiles puts in the place of each job folder among args the packs made of
// it. What else is named stays as it is.
func packFiles(args []string) ([]string, error) {
	var all []string
	for _, arg := range args {
		if _, err := os.Stat(filepath.Join(arg, job.FileName)); err != nil {
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
