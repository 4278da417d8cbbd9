// Package lockfile takes a right that one run at a time has, by a file that says who has
// it. The system lets go of it when the run ends, however it ends.
package lockfile

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"strings"
	"time"
)

// ErrHeld says that another run has the right; [Holder] says which.
var ErrHeld = errors.New("held by another run")

// Take takes the right, until release is called or the process ends. doing names what is
// done with it; with the user, the computer and the time it is what a second one is told.
func Take(path, doing string) (release func() error, err error) {
	for {
		f, err := open(path)
		if err != nil {
			return nil, err
		}
		if !isAt(f, path) { // the one before took the file away between our opening and locking it
			_ = f.Close()
			continue
		}
		if err := sign(f, doing); err != nil {
			return nil, errors.Join(err, remove(f, path))
		}
		return func() error { return remove(f, path) }, nil
	}
}

// Holder says who has the right, "" when nobody has it.
func Holder(path string) string {
	if _, err := os.Stat(path); err != nil {
		return ""
	}
	f, err := open(path)
	if errors.Is(err, ErrHeld) {
		return holder(path)
	}
	if err == nil { // left by a run that was killed
		_ = f.Close()
	}
	return ""
}

// sign writes who holds the lock.
func sign(f *os.File, doing string) error {
	who := "somebody"
	if u, err := user.Current(); err == nil {
		who = u.Username
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this computer"
	}
	text := fmt.Sprintf("%s (%s on %s, since %s, process %d)\n", doing, who, host, time.Now().Format("2006-01-02 15:04:05"), os.Getpid())
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err = f.WriteAt([]byte(text), 0)
	return err
}

// holder is what the lock says, in one line.
func holder(path string) string {
	f, err := os.Open(path)
	if err != nil {
		return "another run"
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 400))
	if line := strings.Join(strings.Fields(string(text)), " "); err == nil && line != "" {
		return line
	}
	return "another run"
}

func isAt(f *os.File, path string) bool {
	held, err := f.Stat()
	if err != nil {
		return false
	}
	now, err := os.Stat(path)
	return err == nil && os.SameFile(held, now)
}
