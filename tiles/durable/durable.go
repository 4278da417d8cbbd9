// Package durable writes files so that there is always a whole one under their name: the
// old one or the new one, also after a kill or a power cut.
package durable

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Write makes a file, or puts another in its place. One that is there keeps its
// permissions; a new one gets these, less what the user's mask takes away.
func Write(path string, data []byte, mode fs.FileMode) error {
	part, err := writePart(path, data, mode)
	if err == nil {
		err = Rename(part, path)
	}
	if err != nil && part != "" {
		err = errors.Join(err, os.Remove(part))
	}
	return err
}

// writePart writes the data, on the disk, to a hidden name in the same folder.
func writePart(path string, data []byte, mode fs.FileMode) (part string, err error) {
	dir, name := filepath.Split(path)
	part = filepath.Join(dir, fmt.Sprintf(".%s.%016x.part", name, rand.Uint64()))
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return "", err
	}
	if info, statErr := os.Stat(path); statErr == nil {
		err = f.Chmod(info.Mode().Perm()) // on Windows it has no say
	}
	if err == nil {
		_, err = f.Write(data)
	}
	if err == nil {
		err = f.Sync()
	}
	return part, errors.Join(err, f.Close())
}

// Rename gives a file its name, in place of the one that has it, and makes that durable.
// On Windows it does so also while another process has the old one open, provided that it
// lets others take files away that it has open.
func Rename(from, to string) error {
	if err := rename(from, to); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(to))
}

// SyncFile puts what was written to a file on the disk.
func SyncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0) // Windows syncs none that is open to be read alone
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// SyncTree puts a folder on the disk, with all that is in it.
func SyncTree(folder string) error {
	return filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir():
			return syncFolder(path)
		default:
			return SyncFile(path)
		}
	})
}
