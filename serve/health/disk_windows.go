package health

import (
	"syscall"
	"unsafe"
)

var freeSpace = syscall.NewLazyDLL("kernel32.dll").NewProc("GetDiskFreeSpaceExW")

// Free returns the space left for this user on the disk that holds path, and the size
// of that disk, in bytes; ok is false if the system does not report it. The path is that
// of a folder.
func Free(path string) (free, size int64, ok bool) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return 0, 0, false
	}
	done, _, _ := freeSpace.Call(uintptr(unsafe.Pointer(name)), uintptr(unsafe.Pointer(&free)), uintptr(unsafe.Pointer(&size)), 0)
	return free, size, done != 0
}
