//go:build !linux && !darwin && !windows

package health

// Free is not available on this system.
func Free(string) (free, size int64, ok bool) { return 0, 0, false }
