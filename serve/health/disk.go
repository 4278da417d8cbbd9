//go:build linux || darwin

package health

import "syscall"

// Free returns the space left for this user on the disk that holds path, and the size
// of that disk, in bytes; ok is false if the system does not report it.
func Free(path string) (free, size int64, ok bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(path, &s); err != nil {
		return 0, 0, false
	}
	block := int64(s.Bsize) //nolint:unconvert // 32 bits on some systems
	return int64(s.Bavail) * block, int64(s.Blocks) * block, true
}
