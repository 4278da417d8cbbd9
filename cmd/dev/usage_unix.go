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
