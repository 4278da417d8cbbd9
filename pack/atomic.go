package pack

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
)

// A pack is written under ".NAME.PID.part" beside its final name.

func partName(path string) string {
	dir, name := filepath.Split(path)
	return filepath.Join(dir, fmt.Sprintf(".%s.%d.part", name, os.Getpid()))
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
		text = strings.TrimSuffix(strings.TrimSuffix(text, ".part"), ".probe")
		if pid, err := strconv.Atoi(text); ok && err == nil && (pid == os.Getpid() || !alive(pid)) {
			_ = os.Remove(filepath.Join(dir, e.Name())) // what cannot be removed now is tried again next time
		}
	}
}

func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, os.ErrPermission)
}

// finish makes the file durable and gives it its name in one step.
func finish(part, path string) error {
	if err := syncPath(part); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	err := syncPath(filepath.Dir(path))
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		return nil // a disk whose system syncs files alone
	}
	return err
}

func syncPath(path string) error {
	mode := os.O_RDWR
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		if runtime.GOOS == "windows" {
			return nil // Windows cannot sync a folder, and its rename needs no such help
		}
		mode = os.O_RDONLY
	}
	f, err := os.OpenFile(path, mode, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	return errors.Join(err, f.Close())
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
