//go:build !cgo

package sqlite

// Trim has nothing to do: there is no C library.
func Trim() {}
