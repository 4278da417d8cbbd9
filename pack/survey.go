package pack

import (
	"context"
	"fmt"
	"iter"

	"groundsheet/tiles/raster"
)

// surveyed is what a first look at the records, without their images, tells.
type surveyed struct {
	records int64
	share   bool        // keeping repeated images once saves at least a tenth
	format  raster.Kind // the pack's one format
}

// survey proves that every wanted tile is held or a known hole, and chooses
// the format and the layout of the pack.
func survey(ctx context.Context, c Content) (surveyed, error) {
	var s surveyed
	var all, repeated int64
	seen, kinds := map[[32]byte]bool{}, map[raster.Kind]int64{}
	for _, cover := range c.Covers {
		next, stop := iter.Pull(cover.All())
		for r, err := range c.Tiles(ctx, cover, false) {
			if err != nil {
				stop()
				return s, err
			}
			id, ok := next()
			if !ok || id != r.ID {
				stop()
				return s, fmt.Errorf("tile %v is wanted but not in the office store: run pack again to fetch it", id)
			}
			s.records++
			if r.Hole {
				continue
			}
			kinds[raster.Kind(r.Media)]++
			all += int64(r.Bytes)
			if seen[r.Hash] {
				repeated += int64(r.Bytes)
			}
			seen[r.Hash] = true
		}
		id, more := next()
		stop()
		if more {
			return s, fmt.Errorf("tile %v is wanted but not in the office store: run pack again to fetch it", id)
		}
	}
	s.share = repeated*10 >= all && repeated > 0
	s.format = oneFormat(kinds)
	return s, nil
}

// oneFormat picks what all tiles become. A mix becomes PNG, which keeps both
// the pixels and the transparency of every kind.
func oneFormat(kinds map[raster.Kind]int64) raster.Kind {
	if len(kinds) == 1 {
		for k := range kinds {
			return k
		}
	}
	return "png"
}
