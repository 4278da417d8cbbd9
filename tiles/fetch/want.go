package fetch

import (
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Want is one tile to ask for.
type Want struct {
	tiles.ID
	// Held is what the store holds of the tile, without its image; the zero
	// Record when it holds nothing. Its validators make the request a
	// conditional one, and when the source fails it may stand in.
	Held store.Held
}

// held reports whether the store holds the tile or a hole in its place.
func (w Want) held() bool { return !w.Held.Fetched.IsZero() }

// hasImage reports whether the store holds an image of the tile.
func (w Want) hasImage() bool { return w.held() && !w.Held.Hole }

// Due reports whether a source is to be asked for a tile that is held: when it
// is no longer fresh, or says that it was fetched in the time to come
// ([tiles.Origin.Ahead]). A forced refresh asks for fresh ones too, except those
// that the source called immutable (RFC 8246, 2).
func Due(held store.Held, now time.Time, forced bool) bool {
	if now.Before(held.FreshUntil) && !held.Ahead(now) {
		return forced && !held.Immutable
	}
	return true
}

// conditions are the validators of a request.
type conditions struct{ etag, modified string }

func (c conditions) none() bool { return c == conditions{} }

// shared are the validators that all the wants hold an image of; a picture cut
// into several tiles is confirmed only as a whole.
func shared(wants []Want) conditions {
	c := conditions{wants[0].Held.ETag, wants[0].Held.LastModified}
	for _, w := range wants {
		if !w.hasImage() || c != (conditions{w.Held.ETag, w.Held.LastModified}) {
			return conditions{}
		}
	}
	return c
}
