//go:build linux || darwin

package health

import "syscall"

// Free is the room left for this user on the disk that holds path, and the size
// of that disk, in bytes; ok is false where the system does not tell.
func Free(path string) (free, size int64, ok bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(path, &s); err != nil {
		return 0, 0, false
	}
	block := int64(s.Bsize) //nolint:unconvert // of 32 bits on some systems
	return int64(s.Bavail) * block, int64(s.Blocks) * block, true
}
