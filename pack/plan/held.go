package plan

import (
	"context"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// holdings counts what the store has of a cover.
func (p *Plan) holdings(ctx context.Context, o Options, c tiles.Cover, found map[[32]byte]*pack.Suspect, line *ZoomPlan) (bytes, fresh int64, err error) {
	if o.Shelf == nil {
		return 0, 0, nil
	}
	now := o.now()
	for r, err := range o.Shelf.In(ctx, c, false) {
		switch {
		case err != nil:
			return 0, 0, err
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
		if Due(p.Source.Terms, r, now) {
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

// Due reports whether the source is to be asked for a tile that is held: it is
// no longer fresh, or the terms do not let it be kept longer without asking, or
// by its dates it is not known how old it is.
func Due(t *source.Terms, r store.Held, now time.Time) bool {
	return r.Ahead(now) || !now.Before(r.FreshUntil) || t != nil && t.KeepAtMost > 0 && now.Sub(r.Fetched) >= time.Duration(t.KeepAtMost)
}

// Ahead counts the held tiles that say that they were fetched later than it is
// now; they are asked for again.
func (p Plan) Ahead() (n int64) {
	for _, z := range p.Zooms {
		n += z.Ahead
	}
	return n
}
