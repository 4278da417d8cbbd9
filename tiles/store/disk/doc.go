// Package store is the office store: the tiles an office has fetched, kept
// between jobs so that no tile is fetched twice.
//
// One folder holds one SQLite file (a [Shelf]) for every source. A file holds
// its tiles in the one tile order and every distinct image once, named by its
// SHA-256. Several processes may use a store at the same time. What
// [Shelf.Keep] returned for survives the end of the process and the loss of
// power, as far as the disk keeps its word.
//
// A shelf that was never written has no file: asking it creates nothing.
//
// The library go-sqlite3 is at home here and in package pack.
package store
