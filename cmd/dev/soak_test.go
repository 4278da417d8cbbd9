//go:build soak

package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

var (
	soakFor     = flag.Duration("for", 30*time.Second, "how long the phones stay; 0 leaves this part out")
	soakPhones  = flag.Int("phones", 50, "how many phones")
	soakHostile = flag.Duration("hostile", 3*time.Second, "how long a hostile phone of each kind stays; 0 leaves this part out")
)

// TestSoak serves the demo's pack to phones that never rest. Meanwhile the pack is
// exchanged again and again, now and then by a file that is no pack, and the receiver
// of positions is cut off and brought back. It fails on any answer that a map
// cannot use, on an exchanged pack that does not take over, on goroutines or files
// that stay, and on memory that grows.
func TestSoak(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("what a process holds is read from /proc, which this system does not have")
	}
	for name, part := range map[string]struct {
		long time.Duration
		run  func(context.Context, repo) error
	}{"phones": {*soakFor, soak}, "hostile phones": {*soakHostile, soakBeside}} {
		t.Run(name, func(t *testing.T) {
			if part.long == 0 {
				t.Skip("left out")
			}
			if err := withRoot(t.Context(), part.run); err != nil {
				t.Fatal(err)
			}
		})
	}
}

// soakRun is one soak.
type soakRun struct {
	base  string
	packs *soakPacks
	feed  *soakFeed
	tally *soakTally
	cuts  int
}

func soak(ctx context.Context, r repo) error {
	d := demoRun{repo: r, dir: r.path(".cache", "soak"), quiet: &without{to: os.Stderr, words: "a file is refused as a pack"}} // as is meant
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	err = r.runIn(ctx, r.root, d.env(), r.program(), "pack", d.site())
	if err := errors.Join(err, running.Close()); err != nil {
		return err
	}
	s := soakRun{tally: &soakTally{}}
	if s.packs, err = makeSoakPacks(ctx, d.pack(), r.path(".cache", "soak", "packs")); err != nil {
		return err
	}
	if s.feed, err = newSoakFeed(ctx); err != nil {
		return err
	}
	defer s.feed.cut()
	step("groundsheet serve, %d phones for %s", *soakPhones, *soakFor)
	server, err := d.startServing(ctx, s.packs.served, "--listen", "127.0.0.1:0", "--position", "tcp:"+s.feed.addr)
	if err != nil {
		return err
	}
	s.base, s.packs.base = server.base, server.base
	return errors.Join(s.run(ctx), server.stop())
}

// run lets the phones come and go, and judges.
func (s *soakRun) run(ctx context.Context) error {
	warm := newPhone(s.base, 0, s.tally)
	short, cancel := context.WithTimeout(ctx, 3*time.Second)
	warm.live(short)
	cancel()
	pause(ctx, time.Second)
	before, err := takeSample(ctx, s.base)
	if err != nil {
		return err
	}
	samples := s.crowd(ctx)
	if err := ctx.Err(); err != nil {
		return err
	}
	after, left := calm(ctx, s.base, before, 20*time.Second)
	status, err := soakStatus(ctx, s.base)
	if err != nil {
		return err
	}
	s.tell(before, after, samples)
	return errors.Join(s.faults(status), left, steady(samples))
}

// crowd runs all phones, the swapping and the cutting for as long as was asked.
func (s *soakRun) crowd(ctx context.Context) []sample {
	short, cancel := context.WithTimeout(ctx, *soakFor)
	defer cancel()
	var all sync.WaitGroup
	for n := range *soakPhones {
		p := newPhone(s.base, n+1, s.tally)
		all.Go(func() { p.live(short) })
		all.Go(func() { p.listen(short) })
	}
	all.Go(func() { s.swapping(short) })
	all.Go(func() { s.cutting(short) })
	samples := watchServer(short, s.base, s.tally)
	all.Wait()
	return samples
}

func (s *soakRun) swapping(ctx context.Context) {
	for n := 0; ctx.Err() == nil; n++ {
		if err := s.packs.swap(ctx, n); err != nil && ctx.Err() == nil {
			s.tally.fault("%v", err)
		}
		pause(ctx, 2*time.Second)
	}
}

// cutting cuts the receiver off, and brings it back: phones must hear of both.
func (s *soakRun) cutting(ctx context.Context) {
	for ctx.Err() == nil {
		if !s.hears(ctx, func(phase string) bool { return phase == "fix" }) {
			s.tally.fault("no position within %s of the receiver being there", hearsWithin)
		}
		pause(ctx, 2*time.Second)
		s.feed.cut()
		if !s.hears(ctx, func(phase string) bool { return phase != "fix" }) {
			s.tally.fault("phones do not hear that the receiver is cut off")
		}
		if err := s.feed.restore(ctx); err != nil && ctx.Err() == nil {
			s.tally.fault("%v", err)
			return
		}
		if ctx.Err() == nil {
			s.cuts++
		}
	}
}

// hearsWithin is how long phones may take to hear of the receiver: the server
// tries again more and more rarely.
const hearsWithin = 45 * time.Second

// hears waits for what phones were told; true also when the soak ends first.
func (s *soakRun) hears(ctx context.Context, done func(string) bool) bool {
	for began := time.Now(); time.Since(began) < hearsWithin; pause(ctx, 100*time.Millisecond) {
		if phase, _ := s.tally.phase.Load().(string); ctx.Err() != nil || done(phase) {
			return true
		}
	}
	return false
}

func (s *soakRun) faults(status soakState) error {
	t := s.tally
	var errs []error
	if t.broken > 0 {
		errs = append(errs, fmt.Errorf("%d faults, such as:\n  %s", t.broken, strings.Join(t.faults, "\n  ")))
	}
	if status.Failed > 0 {
		errs = append(errs, fmt.Errorf("the server counts %d requests that failed there: %v", status.Failed, status.Troubles))
	}
	if s.packs.swaps == 0 || s.cuts == 0 || t.positions.Load() == 0 || t.notModified.Load() == 0 {
		errs = append(errs, fmt.Errorf("too short to tell: %d packs exchanged, %d times cut off, %d positions, %d not modified", s.packs.swaps, s.cuts, t.positions.Load(), t.notModified.Load()))
	}
	return errors.Join(errs...)
}

func (s *soakRun) tell(before, after sample, samples []sample) {
	t := s.tally
	slices.Sort(t.slow)
	at := func(share float64) time.Duration {
		if len(t.slow) == 0 {
			return 0
		}
		return t.slow[min(int(share*float64(len(t.slow))), len(t.slow)-1)].Round(100 * time.Microsecond)
	}
	fmt.Printf("requests   %d (%.0f a second), half within %s, 99 of 100 within %s\n", t.requests.Load(), float64(t.requests.Load())/soakFor.Seconds(), at(0.5), at(0.99))
	fmt.Printf("answers    %d not modified, %d empty, %d gone with their version, %d faults\n", t.notModified.Load(), t.empty.Load(), t.gone.Load(), t.broken)
	fmt.Printf("packs      %d exchanged, %d files refused\n", s.packs.swaps, s.packs.kept)
	fmt.Printf("receiver   %d times cut off and back, %d events with %d positions\n", s.cuts, t.events.Load(), t.positions.Load())
	fmt.Printf("goroutines %d before, %d after\nfiles      %d before, %d after\n", before.goroutines, after.goroutines, before.files, after.files)
	middle, last, perMinute := growth(samples)
	most := int64(0)
	for _, one := range samples {
		most = max(most, one.memory)
	}
	fmt.Printf("memory     %.1f MB before, %.1f MB in the middle, %.1f MB at the end, %.1f MB at most; %+.2f MB a minute\n",
		float64(before.memory)/1e6, float64(middle)/1e6, float64(last)/1e6, float64(most)/1e6, perMinute/1e6)
}
