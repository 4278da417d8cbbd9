package fetch

import (
	"iter"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Want is one tile to ask for.
type Want struct {
	tiles.ID
	// Held is what the store holds of the tile, without its image; the zero
	// Held if it holds nothing. Its validators make the request conditional, and
	// it may stand in if the source fails.
	Held store.Held
}

// held reports whether the store holds the tile or a hole in its place.
func (w Want) held() bool { return !w.Held.Fetched.IsZero() }

// hasImage reports whether the store holds an image of the tile.
func (w Want) hasImage() bool { return w.held() && !w.Held.Hole }

// Wants yields the pairs that the source is to be asked for: missing and stale
// tiles; with all also the fresh ones, except those that the source called
// immutable (RFC 8246, 2). An error ends it.
func Wants(pairs iter.Seq2[store.Pair, error], terms *source.Terms, now time.Time, all bool) iter.Seq2[Want, error] {
	return func(yield func(Want, error) bool) {
		for p, err := range pairs {
			if err == nil && p.State(terms, now) == store.Fresh && (!all || p.Held.Immutable) {
				continue
			}
			if !yield(Want{ID: p.ID, Held: p.Held}, err) || err != nil {
				return
			}
		}
	}
}

// shared are the validators that all wants have in common; a picture cut into
// several tiles is confirmed only as a whole.
func shared(wants []Want) httpcache.Validators {
	v := httpcache.Validators{ETag: wants[0].Held.ETag, LastModified: wants[0].Held.LastModified}
	for _, w := range wants {
		if !w.hasImage() || w.Held.ETag != v.ETag || w.Held.LastModified != v.LastModified {
			return httpcache.Validators{}
		}
	}
	return v
}
