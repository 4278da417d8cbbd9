package prune

import (
	"cmp"
	"slices"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// claim is a cover that one base of a job wants of a shelf.
type claim struct {
	cover  tiles.Cover
	packed int64 // minute
	job    int   // index into claims.jobs
	open   bool
}

// claims are what the jobs of the register want.
type claims struct {
	byZoom map[shelfZoom][]claim
	jobs   []KeptFor // one a key; Tiles counts what is kept for it
}

type shelfZoom struct {
	shelf string
	zoom  uint32
}

func newClaims(register []store.Job) *claims {
	c := &claims{byZoom: map[shelfZoom][]claim{}}
	for _, j := range register {
		i := slices.IndexFunc(c.jobs, func(k KeptFor) bool { return k.Key == j.Key })
		if i < 0 {
			i = len(c.jobs)
			c.jobs = append(c.jobs, KeptFor{Key: j.Key, Name: j.Name, Number: j.Number})
		}
		for _, cover := range j.Covers {
			at := shelfZoom{j.Shelf, uint32(cover.Zoom())}
			c.byZoom[at] = append(c.byZoom[at], claim{cover, minute(j.Packed), i, j.Open()})
		}
	}
	return c
}

// on yields the claims on a tile.
func (c *claims) on(shelf string, t tiles.ID) func(yield func(claim) bool) {
	return func(yield func(claim) bool) {
		for _, one := range c.byZoom[shelfZoom{shelf, t.Z}] {
			if one.cover.Has(t) && !yield(one) {
				return
			}
		}
	}
}

// countKept counts a tile for each open job that wants it.
func (c *claims) countKept(shelf string, t tiles.ID) {
	last := -1 // the bases of a job follow one another
	for one := range c.on(shelf, t) {
		if one.open && one.job != last {
			c.jobs[one.job].Tiles++
			last = one.job
		}
	}
}

// keptFor lists the jobs that something is kept for, most first.
func (c *claims) keptFor() []KeptFor {
	out := slices.DeleteFunc(slices.Clone(c.jobs), func(j KeptFor) bool { return j.Tiles == 0 })
	slices.SortStableFunc(out, func(a, b KeptFor) int { return cmp.Compare(b.Tiles, a.Tiles) })
	return out
}

func minute(t time.Time) int64 { return t.Unix() / 60 }
