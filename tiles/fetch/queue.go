package fetch

import (
	"cmp"
	"iter"
	"maps"
	"slices"
	"sync"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// queue hands out the jobs of a run: each once, and those that came back again.
type queue struct {
	mu    sync.Mutex
	next  func() ([]task, error, bool) // of those never handed out, those for one worker together
	dry   bool                         // next has no more
	back  []task                       // left undone by a lease; never more than the workers had
	aside []task                       // failed while the source fails, to be tried again later
}

// draw gives the next jobs of a worker; more is false if there are none for now.
func (q *queue) draw() (j []task, more bool, err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if n := len(q.back); n > 0 {
		j = []task{q.back[n-1]}
		q.back = q.back[:n-1]
		return j, true, nil
	}
	if q.dry {
		return nil, false, nil
	}
	j, err, more = q.next()
	q.dry = err != nil || !more
	return j, !q.dry, err
}

func (q *queue) putBack(jobs ...task) {
	q.mu.Lock()
	q.back = append(q.back, jobs...)
	q.mu.Unlock()
}

func (q *queue) setAside(j task) {
	q.mu.Lock()
	q.aside = append(q.aside, j)
	q.mu.Unlock()
}

// returnAside queues the jobs set aside.
func (q *queue) returnAside() {
	q.mu.Lock()
	q.back, q.aside = append(q.back, q.aside...), nil
	q.mu.Unlock()
}

// left reports whether there are jobs to hand out, and jobs set aside.
func (q *queue) left() (ready, aside bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return !q.dry || len(q.back) > 0, len(q.aside) > 0
}

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

// task is what one request brings: one tile, or the wanted tiles of a block
// that the source sends as one picture.
type task struct {
	first   tiles.ID // the north-west tile of the picture
	n       int      // tiles along a side of the picture
	wants   []Want   // at least one
	outside bool     // the source itself states that it has no such tile: not asked
}

// jobs turns wants into the jobs that a worker takes together: mostly one. Blocks
// are gathered over one band of rows, so memory goes with the width of the area,
// not with its tiles. An error ends it.
func jobs(src source.Source, wants iter.Seq2[Want, error]) iter.Seq2[[]task, error] {
	return func(yield func([]task, error) bool) {
		var b band
		for w, err := range wants {
			if err != nil {
				yield(nil, err)
				return
			}
			if src.Outside(w.ID) {
				if !yield([]task{{first: w.ID, n: 1, wants: []Want{w}, outside: true}}, nil) {
					return
				}
				continue
			}
			first, n := src.Block(w.ID)
			if n == 1 {
				first, n = src.Batch(w.ID)
				b.apart = n > 1
			}
			if !b.holds(first) && !b.flush(yield) {
				return
			}
			if n > 1 {
				b.add(first, n, w)
			} else if !yield([]task{alone(w)}, nil) {
				return
			}
		}
		b.flush(yield)
	}
}

// alone is the job of a single tile.
func alone(w Want) task { return task{first: w.ID, n: 1, wants: []Want{w}} }

// band is the blocks of one row of blocks.
type band struct {
	blocks map[tiles.ID]*task
	apart  bool // the tiles of a block are asked for one by one, by one worker
}

// holds reports whether a block lies in the band; an empty band holds all.
func (b *band) holds(first tiles.ID) bool {
	for other := range b.blocks {
		return other.Z == first.Z && other.Y == first.Y
	}
	return true
}

func (b *band) add(first tiles.ID, n int, w Want) {
	if b.blocks == nil {
		b.blocks = map[tiles.ID]*task{}
	}
	j := b.blocks[first]
	if j == nil {
		j = &task{first: first, n: n}
		b.blocks[first] = j
	}
	j.wants = append(j.wants, w)
}

// flush hands the blocks out from west to east.
func (b *band) flush(yield func([]task, error) bool) bool {
	blocks := slices.SortedFunc(maps.Values(b.blocks), func(x, y *task) int { return cmp.Compare(x.first.X, y.first.X) })
	b.blocks = nil
	return !slices.ContainsFunc(blocks, func(j *task) bool {
		if !b.apart {
			return !yield([]task{*j}, nil)
		}
		var each []task
		for _, w := range j.wants {
			each = append(each, alone(w))
		}
		return !yield(each, nil)
	})
}
