package health

import (
	"os"
	"runtime/debug"
	"syscall"
	"testing"
)

// TestReadProcess takes known amounts, each far above what a test that ended
// just before may still give back: its goroutines end in their own time.
func TestReadProcess(t *testing.T) {
	const goroutines, files, memory = 200, 50, 64 << 20
	debug.FreeOSMemory()
	before := ReadProcess()

	stop := make(chan struct{})
	defer close(stop)
	for range goroutines {
		go func() { <-stop }()
	}
	for range files {
		f, err := os.Open("process_linux_test.go")
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
	}
	// From the system itself: Go may hand out what an earlier run gave back.
	held, err := syscall.Mmap(-1, 0, memory, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	if err != nil {
		t.Fatal(err)
	}
	defer syscall.Munmap(held)
	for i := 0; i < len(held); i += 4096 {
		held[i] = 1
	}

	after := ReadProcess()
	within := func(what string, grown, taken, slack int64) {
		if grown < taken-slack || grown > taken+slack {
			t.Errorf("%s: %d more after taking %d", what, grown, taken)
		}
	}
	within("goroutines", int64(after.Goroutines-before.Goroutines), goroutines, 20)
	within("files", int64(after.Files-before.Files), files, 5)
	within("memory", after.Memory-before.Memory, memory, 16<<20)
}

func TestAnonymousBytes(t *testing.T) {
	for status, want := range map[string]int64{
		"Name:\tx\nRssAnon:\t      12 kB\n": 12 << 10,
		"Name:\tx\nVmRSS:\t5 kB\n":          -1,
		"Name:\tx\nRssAnon:\t":              -1,
	} {
		if got := anonymousBytes([]byte(status)); got != want {
			t.Errorf("%q: %d, want %d", status, got, want)
		}
	}
}
