package office

import (
	"context"
	"encoding/hex"
	"reflect"
	"sync"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/words"
)

// Looks shows tiles of sources before anything is packed. What the store holds is
// shown as it is held, stale or not; what it does not hold is fetched into it as
// packing does: under the lease of the source, at its pace, within its hours and
// quota, and not at all where its terms do not allow keeping it. It is safe for use
// by several goroutines.
type Looks struct {
	office Office
	ctx    context.Context
	stop   context.CancelFunc
	work   sync.WaitGroup

	mu    sync.Mutex
	views map[string]*view // by the name of the shelf
}

// Look is a tile to look at. Hole means that the source has none.
type Look struct {
	store.Held
	Stale bool
	Odd   string // why it is most likely no picture of this ground, in words; "" = nothing odd is known
}

// NewLooks begins looking with an office; close it at the end.
func NewLooks(o Office) *Looks {
	ctx, stop := context.WithCancel(context.Background())
	return &Looks{office: o, ctx: ctx, stop: stop, views: map[string]*view{}}
}

// Close ends the requests that run; what came is kept.
func (l *Looks) Close() {
	l.stop()
	l.work.Wait()
}

// Tile is one tile of a source. It waits its turn; when ctx ends first, nobody is
// asked for it any more. Errors are the refusal of the terms, those of fetch.Run
// (outside the hours, quota used up, source down …) and those of the store.
func (l *Looks) Tile(ctx context.Context, src source.Source, id tiles.ID) (Look, error) {
	if err := src.Refusal(); err != nil {
		return Look{}, err
	}
	if _, err := src.WithKey(src.URL); err != nil {
		return Look{}, err
	}
	if z := int(id.Z); z < src.Zooms.Min || z > src.Zooms.Max || id.X>>id.Z > 0 || id.Y>>id.Z > 0 {
		return Look{}, &fault.Fault{Detail: words.Say("look.no_zoom", "source", src.Name, "tile", id.String(), "min", src.Zooms.Min,
			"max", src.Zooms.Max)}
	}
	v := l.view(src)
	if b := src.Bounds; b != nil && outsideOf(*b, id.Bounds()) {
		return Look{Held: store.Held{Hole: true, Tile: tiles.Tile{ID: id}}}, nil
	}
	found, err := v.held(ctx, id)
	if err != nil || found != nil {
		return v.look(ctx, found), err
	}
	rec, err := v.ask(ctx, id)
	return v.look(ctx, &rec), err
}

func outsideOf(b, tile tiles.Box) bool {
	return tile.West > b.East || tile.East < b.West || tile.South > b.North || tile.North < b.South
}

// view is the view of one source as it is stated now.
func (l *Looks) view(src source.Source) *view {
	l.mu.Lock()
	defer l.mu.Unlock()
	v := l.views[src.StoreName()]
	if v == nil || !reflect.DeepEqual(v.src, src) { // what it says now counts at once
		v = &view{looks: l, src: src, asked: map[tiles.ID]*asked{}}
		l.views[src.StoreName()] = v
	}
	return v
}

// shelf opens the store for one use; nil when there is none yet and none is made.
func (v *view) shelf(ctx context.Context, open func(context.Context) (store.Store, error)) (store.Shelf, func() error, error) {
	st, err := open(ctx)
	if err != nil || st == nil {
		return nil, func() error { return nil }, err
	}
	shelf, err := st.Shelf(v.src.StoreName())
	return shelf, st.Close, err
}

// held is what the store has of a tile; nil = nothing.
func (v *view) held(ctx context.Context, id tiles.ID) (_ *store.Held, err error) {
	shelf, done, err := v.shelf(ctx, v.looks.office.FindStore)
	if err != nil || shelf == nil {
		return nil, err
	}
	defer func() {
		if closeErr := done(); err == nil {
			err = closeErr
		}
	}()
	rec, has, err := shelf.Get(ctx, id)
	if err != nil || !has {
		return nil, err
	}
	return &rec, nil
}

// look says what is to be said of a tile.
func (v *view) look(ctx context.Context, rec *store.Held) Look {
	if rec == nil {
		return Look{}
	}
	out := Look{Held: *rec}
	pair := store.Pair{ID: rec.ID, Held: *rec, Has: true}
	out.Stale = pair.State(v.src.Terms, v.looks.office.now()) == store.Stale
	if v.src.Placeholder(rec.Hash) {
		out.Hole = true
	} else if !rec.Hole {
		out.Odd = v.odd(ctx, rec.Hash)
	}
	return out
}

// again is how long what is known of repeated images counts.
const again = 20 * time.Second

// odd names an image that stands at places far from one another.
func (v *view) odd(ctx context.Context, hash [32]byte) string {
	v.oddMu.Lock()
	defer v.oddMu.Unlock()
	if time.Since(v.oddRead) > again {
		shelf, done, err := v.shelf(ctx, v.looks.office.FindStore)
		if err != nil || shelf == nil {
			return "" // the tile itself is shown all the same
		}
		defer done() //nolint:errcheck // it was only read
		list, err := plan.Suspects(ctx, v.src, shelf)
		if err != nil {
			return ""
		}
		v.oddRead, v.suspects = time.Now(), map[string]pack.Suspect{}
		for _, s := range list {
			v.suspects[s.SHA256] = s
		}
	}
	s, is := v.suspects[hex.EncodeToString(hash[:])]
	switch {
	case !is:
		return ""
	case s.Flat:
		return words.Say("look.odd", "what", words.Say("plan.suspect_flat"), "places", s.Places)
	}
	return words.Say("look.odd", "what", words.Say("plan.suspect_same"), "places", s.Places)
}
