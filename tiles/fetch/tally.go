package fetch

import (
	"sync"
	"time"

	"groundsheet/tiles/store"
)

// Tally counts what a run has done. New, Changed, Same, Unchanged, Absent and
// Withdrawn count only what is on the disk.
type Tally struct {
	Wanted    int   // wants drawn so far
	New       int   // images fetched where none was held
	Changed   int   // images fetched where another one was held
	Same      int   // images fetched that were held already, byte for byte
	Unchanged int   // held images that the source confirmed without sending them
	Absent    int   // tiles the source says it does not have
	Gone      int   // of Absent: an image was held there
	Withdrawn int   // held images that are kept although the source answers that it has none (see Run)
	Brought   int   // tiles that another run fetched meanwhile: not requested
	StoodIn   int   // stale tiles that stand in because the source fails
	Failed    int   // tiles given up in this run
	Requests  int   // requests sent, redirects and retries included
	Retries   int   // requests sent once more
	Bytes     int64 // image bytes of New, Changed and Same
	Received  int64 // bytes of all responses, without their headers
	// spent in pauses the source asked for and before retries; not the pace, not other runs' leases
	Waited time.Duration
}

// Came is the number of images fetched and kept.
func (t Tally) Came() int { return t.New + t.Changed + t.Same }

// add counts what a batch changed.
func (t *Tally) add(k store.Kept, bytes int64) {
	t.New += k.New
	t.Changed += k.Changed
	t.Same += k.Same
	t.Absent += k.Holes
	t.Gone += k.Gone
	t.Bytes += bytes
}

const (
	reasonsKept  = 5  // of failed tiles, for the message
	retriesFree  = 20 // retries that a run has in any case
	retriesShare = 2  // beyond them, at most one request in so many is a retry
)

// counter is the tally that workers and writer share, and the failures.
type counter struct {
	mu      sync.Mutex
	tally   Tally
	inRow   int // tiles that failed since the last good answer
	reasons []string
}

func (c *counter) count(add func(*Tally)) {
	c.mu.Lock()
	add(&c.tally)
	c.mu.Unlock()
}

func (c *counter) snapshot() Tally {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.tally
}

// retry counts a retry with the wait before it. It is refused when retries would
// become the load that a weak source dies of.
func (c *counter) retry(wait time.Duration) (Tally, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.tally.Retries >= retriesFree+c.tally.Requests/retriesShare {
		return c.tally, false
	}
	c.tally.Retries++
	c.tally.Waited += wait
	return c.tally, true
}

// row counts a failed tile, and begins again after a good answer.
func (c *counter) row(failed bool) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.inRow++
	if !failed {
		c.inRow = 0
	}
	return c.inRow
}

// giveUp counts tiles that failed for a reason.
func (c *counter) giveUp(tiles int, reason string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tally.Failed += tiles
	if tiles > 0 && len(c.reasons) < reasonsKept {
		c.reasons = append(c.reasons, reason)
	}
}
