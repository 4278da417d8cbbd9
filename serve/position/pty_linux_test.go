package position

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// terminal opens a pair of pseudo terminals: what is written to the first is
// read from the port at path.
func terminal(t *testing.T) (first *os.File, path string) {
	t.Helper()
	first, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.IoctlSetPointerInt(int(first.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(first.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	return first, fmt.Sprintf("/dev/pts/%d", n)
}

// A serial port whose receiver is pulled out, and plugged in as another device
// under the same name.
func TestSerialPulledOutAndPluggedIn(t *testing.T) {
	name := filepath.Join(t.TempDir(), "receiver")
	f := run(t, "serial:"+name+"?baud=115200", quick)
	until(t, f, "away", func(s FeedState) bool { return s.Phase == PhaseAway && strings.Contains(s.Problem, "plugged in") })
	for round := range 3 {
		first, port := terminal(t)
		if err := os.Symlink(port, name); err != nil {
			t.Fatal(err)
		}
		until(t, f, "listening", phase(PhaseSilent))
		send(t, first, second(round, "4"))
		s := until(t, f, "found", phase(PhaseFix))
		if s.Fix.Time.Second() != round || !s.Live(time.Now()) {
			t.Errorf("%+v", s.Fix)
		}
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
		_ = first.Close()
		s = until(t, f, "away", phase(PhaseAway))
		if s.Live(time.Now()) {
			t.Error("live without a receiver")
		}
	}
}

// With so many files open that the library cannot wait for the port, it is away
// and tried again, and the program goes on.
func TestSerialBeyondManyFiles(t *testing.T) {
	first, port := terminal(t)
	defer first.Close()
	var many []*os.File
	free := func() {
		for _, f := range many {
			_ = f.Close()
		}
		many = nil
	}
	defer free()
	for range 1100 {
		f, err := os.Open("/dev/null")
		if err != nil {
			break // this system allows no more, and so it will not give the port either
		}
		many = append(many, f)
	}
	f := run(t, "serial:"+port, quick)
	until(t, f, "away", func(s FeedState) bool {
		return s.Phase == PhaseAway && (strings.Contains(s.Problem, "so many connections") || strings.Contains(s.Problem, "too many open files"))
	})
	free()
	send(t, first, second(1, "4"))
	until(t, f, "found", phase(PhaseFix))
}
