// Package health reads the condition of the machine: batteries, free disk space,
// and what this process uses. It leaves out what a system does not report.
package health

import (
	"bytes"
	"fmt"
	"os"
	"runtime"
)

// Process is what this process uses.
type Process struct {
	Goroutines int
	Files      int   // open files and connections; -1 = not reported
	Memory     int64 // bytes of its own memory, without mapped files; -1 = not reported
}

// ReadProcess counts. Only Linux reports files and memory (proc(5): /proc/self/fd,
// RssAnon of /proc/self/status).
func ReadProcess() Process {
	p := Process{Goroutines: runtime.NumGoroutine(), Files: -1, Memory: -1}
	if entries, err := os.ReadDir("/proc/self/fd"); err == nil {
		p.Files = len(entries) - 1 // without the folder itself
	}
	if status, err := os.ReadFile("/proc/self/status"); err == nil {
		p.Memory = anonymousBytes(status)
	}
	return p
}

// anonymousBytes finds RssAnon in a status file of proc(5).
func anonymousBytes(status []byte) int64 {
	_, after, found := bytes.Cut(status, []byte("\nRssAnon:"))
	var kib int64
	if _, err := fmt.Sscan(string(after), &kib); !found || err != nil {
		return -1
	}
	return kib << 10
}
