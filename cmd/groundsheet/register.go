package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"groundsheet/pack/office"
	"groundsheet/tiles/store"
)

// jobKey names a job in the register for good: the computer and the folder. A
// store may be shared by several computers.
func jobKey(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	host, err := os.Hostname()
	if err != nil {
		return "", fmt.Errorf("this computer has no name: %w", err)
	}
	return host + ":" + abs, nil
}

// folderOf is the folder in a key when the job is of this computer, else the
// whole key.
func folderOf(key string) string {
	if host, err := os.Hostname(); err == nil {
		return strings.TrimPrefix(key, host+":")
	}
	return key
}

// noteJob puts a base that was packed into the register. A job that was closed
// is open again.
func noteJob(ctx context.Context, w *work, base int, o office.Options) error {
	key, err := jobKey(w.job.Dir)
	if err != nil {
		return err
	}
	file, err := filepath.Abs(o.Plan.Path)
	if err != nil {
		return err
	}
	return w.store.NoteJob(ctx, store.Job{
		Key: key, Base: base, Name: w.job.Name, Number: w.job.Number, Shelf: o.Shelf.Name(), Pack: file,
		Covers: o.Plan.Covers, Packed: time.Now().UTC(),
	})
}

// closeGoneBases closes the bases that a job no longer has, so that nobody
// keeps their tiles for it.
func closeGoneBases(ctx context.Context, w *work) error {
	key, err := jobKey(w.job.Dir)
	if err != nil {
		return err
	}
	jobs, err := w.store.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if j.Key != key || j.Base < len(w.job.Bases) || !j.Open() {
			continue
		}
		j.Closed = time.Now().UTC()
		if err := w.store.NoteJob(ctx, j); err != nil {
			return err
		}
	}
	return nil
}
