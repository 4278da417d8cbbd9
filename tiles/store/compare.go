package store

import (
	"context"
	"fmt"
	"iter"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// Pair is a wanted tile beside what is held of it.
type Pair struct {
	ID   tiles.ID
	Held Held // the zero Held when Has is false
	Has  bool // an image or a hole is held
}

// State says what a wanted tile needs.
type State int

// The states of a pair.
const (
	Missing State = iota // nothing is held: fetch it
	Stale                // an image or a hole is held and due: ask the source to confirm it
	Fresh                // an image or a hole is held and not due
)

// State is the one rule of what is due. A held tile is stale when its freshness
// has ended, when the terms do not let it be kept longer without asking
// (keep_at_most), or when it claims to have been fetched in the future
// ([tiles.Origin.Ahead]), so that its age is unknown. terms may be nil.
func (p Pair) State(terms *source.Terms, now time.Time) State {
	switch {
	case !p.Has:
		return Missing
	case p.Held.Ahead(now), !now.Before(p.Due(terms)):
		return Stale
	}
	return Fresh
}

// Due is when a held tile becomes stale. terms may be nil.
func (p Pair) Due(terms *source.Terms) time.Time {
	due := p.Held.FreshUntil
	if terms != nil && terms.KeepAtMost > 0 {
		if most := p.Held.Fetched.Add(time.Duration(terms.KeepAtMost)); most.Before(due) {
			return most
		}
	}
	return due
}

// CoverReader yields what is held of a cover, see [Reader]. A shelf is one, and
// so is a pack.
type CoverReader interface {
	In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[Held, error]
}

// CoverFunc is a function that serves as a [CoverReader].
type CoverFunc func(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[Held, error]

// In calls f.
func (f CoverFunc) In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[Held, error] {
	return f(ctx, c, data)
}

// Compare merges covers with what is held of them: one pair for each wanted
// tile, in tile order within a cover. Images are read only when data is true.
// An error ends the sequence, and no tile behind the last one read is yielded:
// a tile that could not be read is not a missing one.
func Compare(ctx context.Context, held CoverReader, data bool, covers ...tiles.Cover) iter.Seq2[Pair, error] {
	return func(yield func(Pair, error) bool) {
		for _, c := range covers {
			if !compare(c, held.In(ctx, c, data), yield) {
				return
			}
		}
	}
}

// compare merges one cover; it is false when nothing may follow.
func compare(c tiles.Cover, held iter.Seq2[Held, error], yield func(Pair, error) bool) bool {
	next, stop := iter.Pull(c.All())
	defer stop()
	id, more := next()
	for h, err := range held {
		for ; err == nil && more && tiles.Compare(id, h.ID) < 0; id, more = next() {
			if !yield(Pair{ID: id}, nil) {
				return false
			}
		}
		if err == nil && (!more || id != h.ID) {
			err = fmt.Errorf("the store gave tile %v, which was not asked for or out of order", h.ID)
		}
		if err != nil {
			yield(Pair{}, err)
			return false
		}
		if !yield(Pair{ID: id, Held: h, Has: true}, nil) {
			return false
		}
		id, more = next()
	}
	for ; more; id, more = next() {
		if !yield(Pair{ID: id}, nil) {
			return false
		}
	}
	return true
}
