package job

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"time"

	"groundsheet/tiles/fault"
)

// LockName is the file of a job folder that says who is writing into the folder.
const LockName = ".groundsheet-lock"

// Locked is the kind of fault of a job folder that another run is writing into.
var Locked = fault.Outside("locked job")

// Lock takes the right to write into a job folder, until unlock is called or the
// process ends, however it ends. doing names what is done, such as "groundsheet pack";
// with the user, the computer and the time it is what a second one is told: its error
// is of kind [Locked].
func Lock(dir, doing string) (unlock func() error, err error) {
	path := filepath.Join(dir, LockName)
	if _, err := os.Stat(filepath.Join(dir, FileName)); err != nil {
		return nil, noJob(dir, err)
	}
	for {
		f, err := lockFile(path)
		if errors.Is(err, errHeld) {
			return nil, &fault.Fault{Kind: Locked, Place: dir, Detail: "is being worked on by " + holder(path),
				Remedy: "wait until that has ended, or end it; then do this again"}
		}
		if err != nil {
			return nil, &fault.Fault{Kind: Locked, Place: dir, Detail: "cannot be locked", Err: err,
				Remedy: "look whether you may write into the folder"}
		}
		if !isAt(f, path) { // the one before took the file away between our opening and locking it
			_ = f.Close()
			continue
		}
		if err := sign(f, doing); err != nil {
			return nil, errors.Join(err, unlockFile(f, path))
		}
		return func() error { return unlockFile(f, path) }, nil
	}
}

// Holder says who is writing into a job folder, "" when nobody is.
func Holder(dir string) string {
	path := filepath.Join(dir, LockName)
	if _, err := os.Stat(path); err != nil {
		return ""
	}
	f, err := lockFile(path)
	if errors.Is(err, errHeld) {
		return holder(path)
	}
	if err == nil { // left by a run that was killed
		_ = f.Close()
	}
	return ""
}

func noJob(dir string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return invalid(filepath.Join(dir, FileName), "there is no such file", "name a job folder, or make one with: groundsheet new")
	}
	return err
}

var errHeld = errors.New("held by another run")

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
