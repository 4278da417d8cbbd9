//go:build cgo

package sqlite

// #include <stdlib.h>
// #ifdef __GLIBC__
// #include <malloc.h>
// static void trim(void) { malloc_trim(0); }
// #else
// static void trim(void) { }
// #endif
import "C"

// Trim hands memory that SQLite gave back to the C library on to the system.
// The library of GNU keeps it, in up to eight heaps a core, so a server that
// opens and closes files for days would seem to grow. It takes milliseconds.
func Trim() { C.trim() }
