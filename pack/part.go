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
	found, err := filepath.Glob(filepath.Join(dir, "."+globEscape(name)+".*.part"))
	if err != nil {
		return // only a malformed pattern, and then there is nothing to remove
	}
	for _, f := range found {
		text := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), "."+name+"."), ".part")
		if pid, err := strconv.Atoi(text); err == nil && (pid == os.Getpid() || !alive(pid)) {
			_ = os.Remove(f) // what cannot be removed now is tried again next time
		}
	}
}

func globEscape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(s)
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
	return syncPath(filepath.Dir(path))
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
