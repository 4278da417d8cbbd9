package plan

import (
	"context"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// holdings counts what the store has of a cover.
func (p *Plan) holdings(ctx context.Context, o Options, c tiles.Cover, found map[[32]byte]*pack.Suspect, line *ZoomPlan) (bytes, fresh int64, err error) {
	if o.Shelf == nil {
		return 0, 0, nil
	}
	now := o.now()
	for pair, err := range store.Compare(ctx, o.Shelf, false, c) {
		r := pair.Held
		switch {
		case err != nil:
			return 0, 0, err
		case !pair.Has:
			continue
		case r.Hole:
			line.Absent++
		case p.Source.Placeholder(r.Hash):
			line.Absent++
			line.Placeholders++
		default:
			line.Held++
			bytes += int64(r.Bytes)
			if s := found[r.Hash]; s != nil {
				s.Tiles++
			}
		}
		if pair.State(p.Source.Terms, now) == store.Stale {
			line.Stale++
			if r.Ahead(now) {
				line.Ahead++
			}
		} else {
			fresh++
		}
	}
	return bytes, fresh, nil
}

// Ahead counts the held tiles that say that they were fetched later than it is
// now; they are asked for again.
func (p Plan) Ahead() (n int64) {
	for _, z := range p.Zooms {
		n += z.Ahead
	}
	return n
}
