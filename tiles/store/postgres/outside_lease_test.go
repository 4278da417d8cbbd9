//go:build outside

package postgres

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles/store"
)

// The test binary becomes another computer's program by these variables.
const (
	asProgram = "STORE_TEST_PROGRAM" // "share" or "hold"
	programAt = "STORE_TEST_ADDRESS"
	programIn = "STORE_TEST_FOLDER"
)

const sharedLimit = 300

// program is what the other process does.
func program(ctx context.Context, what string) error {
	s, err := Open(ctx, os.Getenv(programAt), Options{Connections: 2})
	if err != nil {
		return err
	}
	defer s.Close()
	shelf, err := s.Shelf("town")
	if err != nil {
		return err
	}
	if what == "hold" {
		if _, err := shelf.Lease(ctx, nil); err != nil {
			return err
		}
		fmt.Println("held")
		select {}
	}
	for range 6 {
		if err := shareOnce(ctx, shelf); err != nil {
			return err
		}
	}
	return nil
}

// shareOnce takes a lease, makes sure that nobody else has one, and spends.
func shareOnce(ctx context.Context, shelf store.Shelf) error {
	lease, err := shelf.Lease(ctx, nil)
	if err != nil {
		return err
	}
	mark := filepath.Join(os.Getenv(programIn), "inside")
	f, err := os.OpenFile(mark, os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("two have the lease: %w", err)
	}
	f.Close()
	for range 3 {
		n, err := lease.Spend(ctx, "2026-11-25", 5, sharedLimit)
		if err != nil {
			return err
		}
		fmt.Println("got", n)
	}
	if err := os.Remove(mark); err != nil {
		return err
	}
	return lease.Release(ctx, store.RateState{})
}

func start(t *testing.T, what, address, folder string) (*exec.Cmd, io.Reader) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), asProgram+"="+what, programAt+"="+address, programIn+"="+folder)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, out
}

// Five processes ask for 450 requests of a budget of 300.
func TestOutsideProcessesShareABudget(t *testing.T) {
	a, folder := address(t), t.TempDir()
	var total int
	var mu sync.Mutex
	var all sync.WaitGroup
	for range 5 {
		c, out := start(t, "share", a, folder)
		all.Go(func() {
			for lines := bufio.NewScanner(out); lines.Scan(); {
				var n int
				fmt.Sscanf(lines.Text(), "got %d", &n)
				mu.Lock()
				total += n
				mu.Unlock()
			}
			if err := c.Wait(); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if total != sharedLimit {
		t.Errorf("%d requests were granted of %d", total, sharedLimit)
	}
	if n, err := town(t, openAt(t, a, Options{})).Spent(t.Context(), "2026-11-25"); n != sharedLimit || err != nil {
		t.Errorf("%d spent, %v", n, err)
	}
}

// A computer whose program is killed loses the lease, and nobody takes its
// requests for known.
func TestOutsideKilledClientFreesTheTurn(t *testing.T) {
	a := address(t)
	c, out := start(t, "hold", a, t.TempDir())
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "held\n" {
		t.Fatalf("%q, %v", line, err)
	}
	shelf := town(t, openAt(t, a, Options{}))
	short, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	if _, err := shelf.Lease(short, nil); !errors.Is(err, context.DeadlineExceeded) {
		t.Fatalf("the lease is not held: %v", err)
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	c.Wait()
	patient, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	lease, err := shelf.Lease(patient, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p, ok := lease.RateState(); ok {
		t.Errorf("a killed run handed over %+v", p)
	}
	if err := lease.Release(t.Context(), store.RateState{}); err != nil {
		t.Error(err)
	}
}

// A run whose connection is gone has no lease: it is told so, gets no requests,
// and the next run may go on.
func TestOutsideLostConnectionLosesTheTurn(t *testing.T) {
	a := address(t)
	shelf := town(t, openAt(t, a, Options{}))
	lease, err := shelf.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	query(t, a, `SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory'`)
	_, wantedErr := lease.Wanted(t.Context())
	n, spendErr := lease.Spend(t.Context(), "2026-11-25", 5, 10)
	releaseErr := lease.Release(t.Context(), store.RateState{Share: 0.5})
	for what, err := range map[string]error{"Wanted": wantedErr, "Spend": spendErr, "Release": releaseErr} {
		if !errors.Is(err, store.Unreachable) || !strings.Contains(err.Error(), "run again") {
			t.Errorf("%s: %v (%T), want an Unreachable", what, err, err)
		}
		silent(t, err)
	}
	if spent, err := shelf.Spent(t.Context(), "2026-11-25"); n != 0 || spent != 0 || err != nil {
		t.Errorf("got %d, spent %d, %v", n, spent, err)
	}
	next, err := shelf.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := next.RateState(); ok {
		t.Error("the lost run handed over")
	}
	if err := next.Release(t.Context(), store.RateState{}); err != nil {
		t.Error(err)
	}
}

// Computers whose clocks are hours apart hand over ages.
func TestOutsideClocksDiffer(t *testing.T) {
	a := address(t)
	wrong := func() time.Time { return time.Now().Add(-5 * time.Hour) }
	fast := func() time.Time { return time.Now().Add(3 * time.Hour) }
	lease, err := town(t, openAt(t, a, Options{Now: wrong})).Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	p := store.RateState{Left: []time.Time{wrong().Add(-2 * time.Second)}, Until: wrong().Add(time.Minute)}
	if err := lease.Release(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	next, err := town(t, openAt(t, a, Options{Now: fast})).Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	took := time.Since(began) + time.Millisecond
	got, ok := next.RateState()
	if !ok || len(got.Left) != 1 {
		t.Fatalf("%+v, %v", got, ok)
	}
	for what, d := range map[string]time.Duration{
		"the request": got.Left[0].Sub(began.Add(3*time.Hour - 2*time.Second)), "the pause": got.Until.Sub(began.Add(3*time.Hour + time.Minute)),
	} {
		if d < -time.Millisecond || d > took {
			t.Errorf("%s is off by %v; handing over took %v", what, d, took)
		}
	}
	if err := next.Release(t.Context(), store.RateState{}); err != nil {
		t.Error(err)
	}
}
