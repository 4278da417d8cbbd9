package job

import (
	"errors"
	"os"
	"path/filepath"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/lockfile"
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
	unlock, err = lockfile.Take(path, doing)
	switch {
	case errors.Is(err, lockfile.ErrHeld):
		return nil, &fault.Fault{Kind: Locked, Place: dir, Detail: "is being worked on by " + lockfile.Holder(path),
			Remedy: "wait until that has ended, or end it; then do this again"}
	case err != nil:
		return nil, &fault.Fault{Kind: Locked, Place: dir, Detail: "cannot be locked", Err: err,
			Remedy: "look whether you may write into the folder"}
	}
	return unlock, nil
}

// Holder says who is writing into a job folder, "" when nobody is.
func Holder(dir string) string { return lockfile.Holder(filepath.Join(dir, LockName)) }

func noJob(dir string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return invalid(filepath.Join(dir, FileName), "there is no such file", "name a job folder, or make one with: groundsheet new")
	}
	return err
}
