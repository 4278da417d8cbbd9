// Package storetest holds every store to the promises of package store: one
// suite for all of them, run on the real thing.
package storetest
