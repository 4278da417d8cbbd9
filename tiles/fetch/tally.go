package fetch

import (
	"time"

	"groundsheet/tiles/store"
)

// Tally counts what a run has done. New, Changed, Same, Unchanged, Absent and
// Withdrawn count only what is on the disk.
type Tally struct {
	Wanted    int           // wants drawn so far
	New       int           // images that came where none was held
	Changed   int           // images that came where another one was held
	Same      int           // images that came and were held already, byte for byte
	Unchanged int           // held images that the source confirmed without sending them
	Absent    int           // tiles the source says it does not have
	Gone      int           // of Absent: an image was held there
	Withdrawn int           // held images that are kept although the source answers that it has none (see Run)
	Brought   int           // tiles that another run brought meanwhile: not asked for
	StoodIn   int           // held tiles, no longer fresh, that stand in because the source fails
	Failed    int           // tiles given up in this run
	Requests  int           // requests sent, redirects and retries included
	Retries   int           // requests sent once more
	Bytes     int64         // image bytes of New, Changed and Same
	Received  int64         // bytes of all answers, without their headers
	Waited    time.Duration // spent in pauses the source asked for and before retries; not the pace, not other runs' turns
}

// Came is the number of images that came and are kept.
func (t Tally) Came() int { return t.New + t.Changed + t.Same }

// Settled is the number of wants that need nothing more for now.
func (t Tally) Settled() int {
	return t.Came() + t.Unchanged + t.Absent + t.Withdrawn + t.Brought + t.StoodIn
}

// add counts what a batch changed.
func (t *Tally) add(k store.Kept, bytes int64) {
	t.New += k.New
	t.Changed += k.Changed
	t.Same += k.Same
	t.Absent += k.Holes
	t.Gone += k.Gone
	t.Bytes += bytes
}
