package prune

import (
	"cmp"
	"slices"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// wish is a cover that a job wants of a shelf.
type wish struct {
	cover       tiles.Cover
	first, last uint32 // rows of the cover
	packed      int64  // minute
	job         int    // index into wishes.jobs
	open        bool
}

// wishes are what the jobs of the register want.
type wishes struct {
	by   map[string]map[uint32][]wish // shelf, zoom
	jobs []KeptFor                    // one a key; Tiles counts what is kept for it
}

func newWishes(register []store.Job) *wishes {
	w := &wishes{by: map[string]map[uint32][]wish{}}
	for _, j := range register {
		i := slices.IndexFunc(w.jobs, func(k KeptFor) bool { return k.Key == j.Key })
		if i < 0 {
			i = len(w.jobs)
			w.jobs = append(w.jobs, KeptFor{Key: j.Key, Name: j.Name, Number: j.Number})
		}
		for _, c := range j.Covers {
			spans := c.Spans()
			if len(spans) == 0 {
				continue
			}
			if w.by[j.Shelf] == nil {
				w.by[j.Shelf] = map[uint32][]wish{}
			}
			zoom := uint32(c.Zoom())
			w.by[j.Shelf][zoom] = append(w.by[j.Shelf][zoom], wish{c, spans[0].Row, spans[len(spans)-1].Row, minute(j.Packed), i, j.Open()})
		}
	}
	return w
}

// each calls for every wish that wants a tile.
func (w *wishes) each(shelf string, t tiles.ID, do func(wish)) {
	for _, wish := range w.by[shelf][t.Z] {
		if t.Y >= wish.first && t.Y <= wish.last && wish.cover.Has(t) {
			do(wish)
		}
	}
}

// keep counts a tile for each open job that wants it.
func (w *wishes) keep(shelf string, t tiles.ID) {
	last := -1 // the bases of a job stand together
	w.each(shelf, t, func(wish wish) {
		if wish.open && wish.job != last {
			w.jobs[wish.job].Tiles++
			last = wish.job
		}
	})
}

// keptFor are the jobs that something is kept for, most first.
func (w *wishes) keptFor() []KeptFor {
	var out []KeptFor
	for _, j := range w.jobs {
		if j.Tiles > 0 {
			out = append(out, j)
		}
	}
	slices.SortStableFunc(out, func(a, b KeptFor) int { return cmp.Compare(b.Tiles, a.Tiles) })
	return out
}

func minute(t time.Time) int64 { return t.Unix() / 60 }
