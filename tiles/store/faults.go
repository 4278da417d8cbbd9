package store

import (
	"errors"
	"fmt"
	"io/fs"

	"groundsheet/tiles/sqlite"
)

// DiskFull says that the disk under the store takes no more. What was kept
// before is still there.
type DiskFull struct {
	Path string // the store file or folder
	Err  error
}

// Error gives the place and what to do.
func (d *DiskFull) Error() string {
	return fmt.Sprintf("no room left on the disk (or it refuses to write) for %s: %v; free some room or use a store on another disk, then run again: what was kept before is still there", d.Path, d.Err)
}

// Unwrap gives what the system reported.
func (d *DiskFull) Unwrap() error { return d.Err }

// Damaged says that a store file is no sound store file.
type Damaged struct {
	Path string
	Err  error
}

// Error gives the file and what to do.
func (d *Damaged) Error() string {
	return fmt.Sprintf("store file %s is damaged: %v; move it out of the folder (with its -wal and -shm files) and run again: its tiles are fetched anew", d.Path, d.Err)
}

// Unwrap gives what was found.
func (d *Damaged) Unwrap() error { return d.Err }

// Newer says that a store file was written by a newer version of the program.
type Newer struct {
	Path         string
	Found, Known int // schema versions
}

// Error gives the file and what to do.
func (n *Newer) Error() string {
	return fmt.Sprintf("store file %s was written by a newer version of this program (format %d, this version knows %d); use that version or another store folder", n.Path, n.Found, n.Known)
}

// NotHeld says that a tile that was to be renewed is not in the store.
type NotHeld struct {
	Path string
	Tile string // "z/x/y"
}

// Error gives tile and file.
func (n *NotHeld) Error() string {
	return fmt.Sprintf("tile %s is no longer held in %s (was it pruned meanwhile?); run again", n.Tile, n.Path)
}

// fault turns an error of the database into one that says what to do.
func (s *Shelf) fault(doing string, err error) error {
	if err == nil {
		return nil
	}
	switch sqlite.Sort(err) {
	case sqlite.NoRoom:
		return &DiskFull{s.path, err}
	case sqlite.Damaged:
		return &Damaged{s.path, err}
	case sqlite.Busy:
		return fmt.Errorf("%s %s: another run has been writing to it for %v; wait for it to end, then run again: %w", doing, s.path, busyWait, err)
	case sqlite.Denied:
		return fmt.Errorf("%s %s: not permitted here (the store needs a folder you may write to): %w", doing, s.path, err)
	}
	return fmt.Errorf("%s %s: %w", doing, s.path, err)
}

// missing reports whether a file does not exist.
func missing(err error) bool { return errors.Is(err, fs.ErrNotExist) }
