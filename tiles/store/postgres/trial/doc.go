// Package trial runs a PostgreSQL server of its own for tests and benchmarks:
// in a folder of its own, on loopback alone, gone afterwards.
package trial
