package serve

import (
	"os"
	"runtime"
	"sync"
)

// cores is how many tiles may be made at once: as many as there were cores before
// [SpareThread].
var cores = runtime.GOMAXPROCS(0)

// SpareThread lets Go work on one goroutine more than there are cores, once in a
// process and unless GOMAXPROCS is set. To read a tile is a call of C; when the
// system takes the core away in the midst of it, Go gives its place to another
// goroutine, and the tile that was read waits behind all that are ready. With a
// place to spare it goes on at once: on two cores the slowest hundredth of random
// tiles comes in half the time.
func SpareThread() { spareThread() }

var spareThread = sync.OnceFunc(func() {
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(cores + 1)
	}
})
