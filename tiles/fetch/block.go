package fetch

import (
	"cmp"
	"iter"
	"maps"
	"slices"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// job is what one request brings: one tile, or the wanted tiles of a block
// that the source sends as one picture.
type job struct {
	first   tiles.ID // the north-west tile of the picture
	n       int      // tiles along a side of the picture
	wants   []Want   // at least one
	outside bool     // the source itself states that it has no such tile: not asked
}

// jobs turns wants into jobs. Blocks are gathered over one band of rows, so
// memory goes with the width of the area, not with its tiles. An error ends it.
func jobs(src source.Source, wants iter.Seq2[Want, error]) iter.Seq2[job, error] {
	return func(yield func(job, error) bool) {
		var b band
		for w, err := range wants {
			if err != nil {
				yield(job{}, err)
				return
			}
			if src.Outside(w.ID) {
				if !yield(job{first: w.ID, n: 1, wants: []Want{w}, outside: true}, nil) {
					return
				}
				continue
			}
			first, n := src.Block(w.ID)
			if !b.holds(first) && !b.flush(yield) {
				return
			}
			if n > 1 {
				b.add(first, n, w)
			} else if !yield(job{first: w.ID, n: 1, wants: []Want{w}}, nil) {
				return
			}
		}
		b.flush(yield)
	}
}

// band is the blocks of one row of blocks.
type band struct{ blocks map[tiles.ID]*job }

// holds reports whether a block lies in the band; an empty band holds all.
func (b *band) holds(first tiles.ID) bool {
	for other := range b.blocks {
		return other.Z == first.Z && other.Y == first.Y
	}
	return true
}

func (b *band) add(first tiles.ID, n int, w Want) {
	if b.blocks == nil {
		b.blocks = map[tiles.ID]*job{}
	}
	j := b.blocks[first]
	if j == nil {
		j = &job{first: first, n: n}
		b.blocks[first] = j
	}
	j.wants = append(j.wants, w)
}

// flush hands the blocks out from west to east.
func (b *band) flush(yield func(job, error) bool) bool {
	blocks := slices.SortedFunc(maps.Values(b.blocks), func(x, y *job) int { return cmp.Compare(x.first.X, y.first.X) })
	b.blocks = nil
	return !slices.ContainsFunc(blocks, func(j *job) bool { return !yield(*j, nil) })
}
