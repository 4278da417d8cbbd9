package auth

import (
	"io/fs"
	"runtime"
)

// private tells whether only its owner may read a file. Windows has no such
// bits: there the user's folder is what keeps others out.
func private(info fs.FileInfo) bool {
	return runtime.GOOS == "windows" || info.Mode().Perm()&0o077 == 0
}
