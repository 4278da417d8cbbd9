package pack

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"groundsheet/tiles/durable"
)

// A pack is written under ".NAME.PID.part" beside its final name.

func partName(path string) string {
	dir, name := filepath.Split(path)
	return filepath.Join(dir, fmt.Sprintf(".%s.%d.part", name, os.Getpid()))
}

// Part is the name beside a file's for what is to take its place; what killed runs left
// under such names is taken away.
func Part(path string) string {
	removeLeftovers(path)
	return partName(path)
}

// removeLeftovers takes away what killed runs left behind; a file of a
// process that still runs is left alone.
func removeLeftovers(path string) {
	dir, name := filepath.Split(path)
	entries, err := os.ReadDir(filepath.Clean(dir))
	if err != nil {
		return // writing tells what is wrong with the folder
	}
	for _, e := range entries {
		text, ok := strings.CutPrefix(e.Name(), "."+name+".")
		text = strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(text, ".part"), ".probe"), ".old")
		if pid, err := strconv.Atoi(text); ok && err == nil && (pid == os.Getpid() || !alive(pid)) {
			_ = os.Remove(filepath.Join(dir, e.Name())) // what cannot be removed now is tried again next time
		}
	}
}

// finish makes the file durable and gives it its name in one step.
func finish(part, path string) error {
	if err := durable.SyncFile(part); err != nil {
		return err
	}
	return durable.Rename(part, path)
}

// CanWrite proves that a pack can be written at a path, by making a file beside
// it and taking it away. The error is of the kind [NotWritten].
func CanWrite(path string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return notWritten(path, err)
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return notWritten(path, errors.New("a folder of that name is there"))
	}
	probe := strings.TrimSuffix(partName(path), ".part") + ".probe"
	f, err := os.OpenFile(probe, os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return notWritten(path, err)
	}
	return errors.Join(f.Close(), os.Remove(probe))
}
