//go:build unix

package main

import (
	"os"
	"syscall"
)

// usage is the most memory that was resident and what was written to the disk,
// both in MB (Linux: getrusage(2), ru_maxrss in KiB, ru_oublock in blocks of 512 bytes).
func usage(p *os.ProcessState) (peak, written float64) {
	u, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0, 0
	}
	return float64(u.Maxrss) * 1024 / 1e6, float64(u.Oublock) * 512 / 1e6
}

// childMemory is the most memory in MB that one child of this process had
// resident, of those that have ended. A child begins as a copy of its parent, so
// it is never told less than the parent had then: an upper bound.
func childMemory() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u) != nil {
		return 0
	}
	return float64(u.Maxrss) * 1024 / 1e6
}
