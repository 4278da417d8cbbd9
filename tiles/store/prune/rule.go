package prune

import (
	"context"
	"encoding/binary"
	"maps"
	"math"
	"slices"
	"time"

	"groundsheet/tiles/store"
)

// facts are what decides about one tile.
type facts struct {
	open  bool  // an open job wants it
	meets bool  // it meets a condition besides the size
	used  int64 // minute of the latest packing of a job that wants it, else of its fetching
}

// rule says of every tile whether it goes.
type rule struct {
	o       Options
	wishes  *wishes
	old     time.Time // what was fetched before it is older than OlderThan; zero = nothing
	cut     int64     // what was used before this minute goes for its size
	part    int64     // what was used in this minute goes when its hash begins with less than this; 0 to 65536
	freed   int64
	freedOf map[string]int64
}

func (r *rule) judge(shelf string, rec store.Held) facts {
	f := facts{used: math.MinInt64}
	wanted := false
	r.wishes.each(shelf, rec.ID, func(w wish) {
		wanted, f.open = true, f.open || w.open
		f.used = max(f.used, w.packed)
	})
	if !wanted {
		f.used = minute(rec.Fetched)
	}
	f.meets = r.o.Closed && wanted && !f.open || rec.Fetched.Before(r.old)
	return f
}

// takes reports whether a tile goes.
func (r *rule) takes(f facts, rec store.Held) bool {
	return (!f.open || r.o.OpenToo) && r.wouldTake(f, rec)
}

// wouldTake leaves open jobs out of it.
func (r *rule) wouldTake(f facts, rec store.Held) bool {
	return f.meets || f.used < r.cut || f.used == r.cut && !rec.Hole && place(rec.Hash) < r.part
}

// place is where a hash stands among 65,536.
func place(hash [32]byte) int64 { return int64(binary.BigEndian.Uint16(hash[:])) }

// held is a shelf with its size.
type held struct {
	store.Shelf
	size   store.Size
	weight float64 // bytes on the disk for a byte of an image
}

// draft is a plan on its way.
type draft struct {
	o       Options
	now     time.Time
	wishes  *wishes
	shelves []held
}

// When an image may go: with the last of its tiles.
const (
	never  = math.MaxInt64 // a tile of it stays
	chosen = math.MinInt64 // all its tiles meet a condition
)

// settle finds the rule that brings the shelves down to the size wanted and
// takes no more: the minute up to which everything goes, and of that minute the
// part that is needed, by the images' hashes. An image is freed with the last
// of its tiles, so it counts at the latest minute of them.
func (d *draft) settle(ctx context.Context, before int64) (rule, error) {
	r := rule{o: d.o, wishes: d.wishes, cut: math.MinInt64, freedOf: map[string]int64{}}
	if d.o.OlderThan > 0 {
		r.old = d.now.Add(-d.o.OlderThan)
	}
	if err := d.weigh(ctx, &r); err != nil {
		return r, err
	}
	byMinute := map[int64]int64{}
	err := d.images(ctx, &r, func(_ string, last, bytes int64, _ [32]byte) {
		if last != never {
			byMinute[last] += bytes
		}
	})
	if err != nil {
		return r, err
	}
	if over := before - byMinute[chosen] - d.o.DownTo; d.o.DownTo > 0 && over > 0 {
		delete(byMinute, chosen)
		r.cut, over = cutAt(byMinute, over)
		if r.cut != math.MaxInt64 {
			if r.part, err = d.partOf(ctx, &r, over); err != nil {
				return r, err
			}
		}
	}
	return r, d.free(ctx, &r)
}

// cutAt finds the minute in which enough is freed, and how much of it is still
// needed. When all is not enough, everything that may go goes.
func cutAt(byMinute map[int64]int64, over int64) (cut, left int64) {
	for _, m := range slices.Sorted(maps.Keys(byMinute)) {
		if over <= byMinute[m] {
			return m, over
		}
		over -= byMinute[m]
	}
	return math.MaxInt64, over
}

// partOf finds how far into the hashes the cutting minute has to be taken.
func (d *draft) partOf(ctx context.Context, r *rule, over int64) (int64, error) {
	var byPlace [1 << 16]int64
	err := d.images(ctx, r, func(_ string, last, bytes int64, hash [32]byte) {
		if last == r.cut {
			byPlace[place(hash)] += bytes
		}
	})
	for p, bytes := range byPlace {
		if over -= bytes; over <= 0 {
			return int64(p) + 1, err
		}
	}
	return 1 << 16, err
}

// free adds up what the rule frees.
func (d *draft) free(ctx context.Context, r *rule) error {
	return d.images(ctx, r, func(shelf string, last, bytes int64, hash [32]byte) {
		if last == chosen || last < r.cut || last == r.cut && place(hash) < r.part {
			r.freedOf[shelf] += bytes
			r.freed += bytes
		}
	})
}

// weigh finds out what a byte of an image takes on the disk, with its share of
// records and half empty pages: for small images that is far more than a byte.
func (d *draft) weigh(ctx context.Context, r *rule) error {
	for i := range d.shelves {
		d.shelves[i].weight = 1
	}
	sums := map[string]int64{}
	err := d.images(ctx, r, func(shelf string, _, bytes int64, _ [32]byte) { sums[shelf] += bytes })
	for i, s := range d.shelves {
		if sum := sums[s.Name()]; sum > 0 {
			d.shelves[i].weight = float64(s.size.Bytes) / float64(sum)
		}
	}
	return err
}

// imagesAtOnce bounds the memory: some 100 MB.
const imagesAtOnce = 1 << 20

type image struct{ last, bytes int64 }

// images tells of every image when its last tile may go, and what it takes on
// the disk. A large shelf is
// walked several times, each time for a part of its images.
func (d *draft) images(ctx context.Context, r *rule, tell func(shelf string, last, bytes int64, hash [32]byte)) error {
	for _, s := range d.shelves {
		parts := s.size.Images/imagesAtOnce + 1
		for part := range parts {
			seen := map[[32]byte]image{}
			for rec, err := range s.All(ctx, false) {
				if err != nil {
					return err
				}
				if rec.Hole || int64(binary.BigEndian.Uint32(rec.Hash[4:]))%parts != part {
					continue
				}
				was, again := seen[rec.Hash]
				now := image{r.when(r.judge(s.Name(), rec)), int64(rec.Bytes)}
				if again {
					now.last = max(now.last, was.last)
				}
				seen[rec.Hash] = now
			}
			for hash, i := range seen {
				tell(s.Name(), i.last, int64(float64(i.bytes)*s.weight), hash)
			}
		}
	}
	return nil
}

// when is the minute with which a tile may go.
func (r *rule) when(f facts) int64 {
	switch {
	case f.open && !r.o.OpenToo:
		return never
	case f.meets:
		return chosen
	}
	return f.used
}
