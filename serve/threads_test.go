package serve

import (
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
)

// TestSpareThread: one place more than cores, however often it is asked for, and
// none where somebody says how many.
func TestSpareThread(t *testing.T) {
	if os.Getenv("GROUNDSHEET_THREADS") != "" {
		before := runtime.GOMAXPROCS(0)
		SpareThread()
		SpareThread()
		os.Stdout.WriteString("more: " + string(rune('0'+runtime.GOMAXPROCS(0)-before)) + "\n")
		return
	}
	for set, want := range map[string]string{"": "more: 1\n", "2": "more: 0\n"} {
		c := exec.Command(os.Args[0], "-test.run", "^TestSpareThread$")
		for _, e := range os.Environ() {
			if !strings.HasPrefix(e, "GOMAXPROCS=") {
				c.Env = append(c.Env, e)
			}
		}
		c.Env = append(c.Env, "GROUNDSHEET_THREADS=1")
		if set != "" {
			c.Env = append(c.Env, "GOMAXPROCS="+set)
		}
		out, err := c.CombinedOutput()
		if err != nil || !strings.HasPrefix(string(out), want) {
			t.Errorf("GOMAXPROCS=%q: %s, %v; want %s", set, out, err, want)
		}
	}
}
