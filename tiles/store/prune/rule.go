package prune

import (
	"cmp"
	"context"
	"encoding/binary"
	"maps"
	"math"
	"slices"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// rule says of every tile whether it goes.
type rule struct {
	o      Options
	claims *claims
	old    time.Time // tiles fetched before it are older than OlderThan; zero = none
	cut    rank      // what ranks up to it goes for its size
}

// rank orders images by their last use, and within a minute by their hash, so
// that a part of what was packed in one minute can go.
type rank struct {
	minute int64 // of the latest packing of a job that wants a tile of it, else of its fetching
	part   uint8 // first byte of the hash
}

// The ranks at the ends.
var (
	chosen = rank{minute: math.MinInt64}            // all tiles meet a condition besides the size
	stays  = rank{minute: math.MaxInt64, part: 255} // a job keeps a tile of it
	all    = rank{minute: math.MaxInt64}            // above all that may go
)

func (r rank) compare(other rank) int {
	return cmp.Or(cmp.Compare(r.minute, other.minute), cmp.Compare(r.part, other.part))
}

// judgment is what decides about one tile.
type judgment struct {
	open  bool // an open job wants it
	until bool // a job wants it that is to be kept until a day
	rank  rank // without regard to both
}

func (r *rule) judge(shelf string, h store.Held) judgment {
	j, wanted := judgment{rank: rank{minute: math.MinInt64, part: h.Hash[0]}}, false
	for c := range r.claims.on(shelf, h.ID) {
		wanted, j.open, j.until = true, j.open || c.open, j.until || c.until
		j.rank.minute = max(j.rank.minute, c.packed)
	}
	if !wanted {
		j.rank.minute = minute(h.Fetched)
	}
	if h.Hole {
		j.rank.part = math.MaxUint8 // it takes no room: it goes after the images of its minute
	}
	if r.o.Closed && wanted && !j.open || h.Fetched.Before(r.old) {
		j.rank = chosen
	}
	return j
}

// wouldTake leaves what jobs keep out of it.
func (r *rule) wouldTake(j judgment) bool { return j.rank.compare(r.cut) <= 0 }

// takes reports whether a tile goes.
func (r *rule) takes(j judgment) bool { return !r.keeps(j) && r.wouldTake(j) }

// keeps reports whether a job keeps a tile from going.
func (r *rule) keeps(j judgment) bool { return j.until || j.open && !r.o.OpenToo }

// shelf is an opened shelf with its size and what its images take by their rank.
type shelf struct {
	store.Shelf
	size  store.Size
	bytes map[rank]float64 // on the disk
}

// choose finds the lowest cut that brings the shelves down to the size wanted.
// When all of it is not enough, everything that may go goes.
func (r *rule) choose(shelves []*shelf, before int64) {
	r.cut = chosen
	bytes := map[rank]float64{}
	for _, s := range shelves {
		for k, n := range s.bytes {
			bytes[k] += n
		}
	}
	over := float64(before-r.o.DownTo) - bytes[chosen]
	if r.o.DownTo <= 0 || over <= 0 {
		return
	}
	delete(bytes, chosen)
	delete(bytes, stays)
	r.cut = all
	for _, k := range slices.SortedFunc(maps.Keys(bytes), rank.compare) {
		if over -= bytes[k]; over <= 0 {
			r.cut = k
			return
		}
	}
}

// freed is what the rule frees of a shelf.
func (r *rule) freed(s *shelf) int64 {
	var n float64
	for k, bytes := range s.bytes {
		if k.compare(r.cut) <= 0 {
			n += bytes
		}
	}
	return int64(n)
}

// imagesAtOnce bounds the memory: some 100 MB.
const imagesAtOnce = 1 << 20

// measure adds up by rank what the images take on the disk, each with its share
// of records and half empty pages. An image is freed with the last of its
// tiles, so it has the rank of that. A large shelf is walked several times, each
// time for a part of its images.
func (s *shelf) measure(ctx context.Context, r *rule) error {
	type image struct {
		rank  rank
		bytes int
	}
	sum, parts := 0.0, s.size.Images/imagesAtOnce+1
	s.bytes = map[rank]float64{}
	for part := range parts {
		images := map[[32]byte]image{}
		for h, err := range s.All(ctx, false) {
			if err != nil {
				return err
			}
			if h.Hole || int64(binary.BigEndian.Uint32(h.Hash[4:]))%parts != part {
				continue
			}
			j := r.judge(s.Name(), h)
			if r.keeps(j) {
				j.rank = stays
			}
			if was, again := images[h.Hash]; again && was.rank.compare(j.rank) > 0 {
				j.rank = was.rank
			}
			images[h.Hash] = image{j.rank, h.Bytes}
		}
		for _, i := range images {
			s.bytes[i.rank] += float64(i.bytes)
			sum += float64(i.bytes)
		}
	}
	for k := range s.bytes {
		s.bytes[k] *= float64(s.size.Bytes) / max(sum, 1)
	}
	return nil
}

// claim is a cover that one base of a job wants of a shelf.
type claim struct {
	cover  tiles.Cover
	packed int64 // minute
	job    int   // index into claims.jobs
	open   bool
	until  bool // the job is to be kept until a day
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

func newClaims(register []store.PackedJob, now time.Time) *claims {
	c := &claims{byZoom: map[shelfZoom][]claim{}}
	for _, j := range register {
		until := j.Keep.On(now)
		i := slices.IndexFunc(c.jobs, func(k KeptFor) bool { return k.Key == j.Key })
		if i < 0 {
			i = len(c.jobs)
			c.jobs = append(c.jobs, KeptFor{Key: j.Key, Name: j.Name, Number: j.Number})
			if until {
				c.jobs[i].Until, c.jobs[i].Reason = j.Keep.Until, j.Keep.Reason
			}
		}
		for _, cover := range j.Covers {
			at := shelfZoom{j.Shelf, uint32(cover.Zoom())}
			c.byZoom[at] = append(c.byZoom[at], claim{cover, minute(j.Packed), i, j.Open(), until})
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

// countKept counts a tile for each job that keeps it.
func (c *claims) countKept(shelf string, t tiles.ID) {
	last := -1 // the bases of a job follow one another
	for one := range c.on(shelf, t) {
		if (one.open || one.until) && one.job != last {
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
