// Package store says what an office store is: the tiles an office has fetched,
// kept between jobs so that no tile is fetched twice. The rest of the program
// uses these interfaces alone; package folder keeps a store in a folder, package
// postgres in a database that several computers share. Both pass one contract
// suite (package storetest).
//
// A [Store] holds a [Shelf] for every source, and remembers the jobs that were
// packed from it. What [Shelf.Keep] returned for survives the end of the
// process and the loss of power, as far as the disk keeps its word. Several
// processes may use a store at the same time.
//
// Asking a shelf that was never written changes nothing.
package store
