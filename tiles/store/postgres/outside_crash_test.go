//go:build outside

package postgres

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"
	"time"

	"groundsheet/tiles/store"
)

// Whatever Keep returned for is there after the server was ended in the middle
// of its work, and the store opens its connections anew.
func TestOutsideCrashedServer(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	s := openAt(t, address(t), Options{})
	shelf := town(t, s)
	kept := uint32(0)
	for range 4 {
		failed := make(chan error, 1)
		go func() { failed <- keepOn(t.Context(), shelf, &kept) }()
		time.Sleep(time.Duration(100+rng.IntN(400)) * time.Millisecond)
		if err := server.Crash(t.Context()); err != nil {
			t.Fatal(err)
		}
		err := <-failed
		if !errors.Is(err, store.Unreachable) {
			t.Errorf("the writer was told %v (%T), want an Unreachable", err, err)
		}
		silent(t, err)
		if err := server.Resume(t.Context()); err != nil {
			t.Fatal(err)
		}
		held, err := shelf.Size(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		// The batch that was on its way may have got through or not, but as one.
		if n := uint32(held.Tiles); n != kept && n != kept+crashBatch {
			t.Fatalf("%d tiles are held, %d were acknowledged", n, kept)
		}
		kept = uint32(held.Tiles)
		if kept > 0 { // the first crash may come before the first batch
			holds(t, shelf, kept)
		}
		if flaws, err := shelf.Sound(t.Context()); err != nil || len(flaws) != 0 {
			t.Errorf("%q, %v", flaws, err)
		}
	}
	if kept == 0 {
		t.Error("no batch was acknowledged before any crash")
	}
	t.Logf("%d tiles acknowledged over 4 crashes, all held", kept)
}

const crashBatch = 32

// keepOn keeps batches until that fails. Only its own goroutine counts.
func keepOn(ctx context.Context, s store.Shelf, kept *uint32) error {
	for {
		var recs []store.Held
		for i := range uint32(crashBatch) {
			n := *kept + i
			recs = append(recs, image(20, n, uint64(n-n%3), 500+int(n%37)*500))
		}
		if _, err := s.Keep(ctx, recs); err != nil {
			return err
		}
		*kept += crashBatch
	}
}
