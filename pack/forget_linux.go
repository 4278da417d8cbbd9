package pack

import (
	"os"

	"golang.org/x/sys/unix"
)

// forget has the system drop what it remembers of a file that is on the disk, so that
// reading it asks the disk.
func forget(f *os.File) {
	_ = unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED) // a wish: the file is read all the same
}
