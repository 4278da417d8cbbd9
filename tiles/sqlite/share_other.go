//go:build !windows

package sqlite

import "math"

// See share_windows.go.
const (
	longestPath = math.MaxInt
	fileSystem  = ""
)

func prepare() error { return nil }
