package office

import (
	"context"
	"slices"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/store"
)

// Changes is what a run found to be another than what was held.
type Changes struct {
	New       int           `json:"new"`       // images where none was held
	Changed   int           `json:"changed"`   // another image than the one held
	Same      int           `json:"same"`      // sent again, byte for byte what was held
	Gone      int           `json:"gone"`      // an image was held, and the source has none any more
	Withdrawn int           `json:"withdrawn"` // the source says it has none; the image that is held stays
	StoodIn   int           `json:"stood_in"`  // could not be confirmed; what is held stands in
	ByZoom    []ZoomChanges `json:"by_zoom"`   // of Changed and Gone, when they were compared
	Some      []string      `json:"some"`      // the first of these tiles, "z/x/y", at most [MostNamed]
	// the smallest of these tiles: each stands for those above it that changed with it.
	// Where they are too many, tiles above them; at most mostPlaces
	Where []tiles.ID `json:"-"`
}

// ZoomChanges counts the images of a zoom that changed or are gone.
type ZoomChanges struct {
	Zoom    int `json:"zoom"`
	Changed int `json:"changed"`
	Gone    int `json:"gone"`
}

// MostNamed is how many changed tiles are named.
const MostNamed = 20

// changeRecorder is a shelf that records what each batch replaces. Its Keep is called
// by one goroutine at a time.
type changeRecorder struct {
	store.Shelf
	compare bool
	changes Changes
	places  changedTiles
}

// Keep compares the batch with what is held before it is kept.
func (w *changeRecorder) Keep(ctx context.Context, recs []store.Held) (store.Kept, error) {
	if !w.compare {
		return w.Shelf.Keep(ctx, recs)
	}
	held, err := w.held(ctx, recs)
	if err != nil {
		return store.Kept{}, err
	}
	kept, err := w.Shelf.Keep(ctx, recs)
	if err != nil {
		return kept, err
	}
	for _, r := range recs {
		old, had := held[r.ID]
		now, err := store.Checked(r)
		if err == nil && had && old != now.Hash {
			w.count(now)
		}
	}
	return kept, nil
}

// held gives the hashes of the images that a batch may replace.
func (w *changeRecorder) held(ctx context.Context, recs []store.Held) (map[tiles.ID][32]byte, error) {
	spans := map[int][]tiles.Span{}
	for _, r := range recs {
		spans[int(r.Z)] = append(spans[int(r.Z)], tiles.Span{Row: r.Y, First: r.X, Last: r.X})
	}
	var covers []tiles.Cover
	for zoom, places := range spans {
		covers = append(covers, tiles.NewCover(zoom, places))
	}
	held := map[tiles.ID][32]byte{}
	for p, err := range store.Compare(ctx, w, false, covers...) {
		if err != nil {
			return nil, err
		}
		if p.Has && !p.Held.Hole {
			held[p.ID] = p.Held.Hash
		}
	}
	return held, nil
}

// count counts a tile whose image is another one now, or a hole.
func (w *changeRecorder) count(now store.Held) {
	c := &w.changes
	i, found := slices.BinarySearchFunc(c.ByZoom, int(now.Z), func(z ZoomChanges, zoom int) int { return z.Zoom - zoom })
	if !found {
		c.ByZoom = slices.Insert(c.ByZoom, i, ZoomChanges{Zoom: int(now.Z)})
	}
	if now.Hole {
		c.ByZoom[i].Gone++
	} else {
		c.ByZoom[i].Changed++
	}
	if len(c.Some) < MostNamed {
		c.Some = append(c.Some, now.ID.String())
	}
	w.places.add(now.ID)
}

// total gives the changes with the counts of the run.
func (w *changeRecorder) total(t fetch.Tally) Changes {
	c := w.changes
	c.New, c.Changed, c.Same = t.New, t.Changed, t.Same
	c.Gone, c.Withdrawn, c.StoodIn = t.Gone, t.Withdrawn, t.StoodIn
	c.Where = w.places.smallest()
	return c
}
