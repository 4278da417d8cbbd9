// Package folder keeps an office store in a folder: one SQLite file for every
// source, and one for the register of jobs. A file holds its tiles in the one
// tile order and every distinct image once, named by its SHA-256.
//
// The files use a rollback journal, not a write-ahead log: a log writes every
// image twice, which costs a third of the speed of fetching. Readers therefore
// never hold a statement open while their caller works, or they would hold up
// the writer.
package folder
