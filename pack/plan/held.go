package plan

import (
	"context"
	"encoding/hex"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// holdings counts what the store has of a cover.
func (p *Plan) holdings(ctx context.Context, o Options, c tiles.Cover, found map[[32]byte]*pack.Suspect,
	line *ZoomPlan) (bytes, fresh int64, err error) {
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
		if due := pair.Due(p.Source.Terms); p.Due.IsZero() || due.Before(p.Due) {
			p.Due = due
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

// suspects looks for images that stand at distant places, by their hashes. Empty paper
// of a drawing is none.
func suspects(ctx context.Context, src source.Source, shelf store.Shelf) (map[[32]byte]*pack.Suspect, error) {
	found := map[[32]byte]*pack.Suspect{}
	if shelf == nil || len(src.Draw) > 0 {
		return found, nil
	}
	repeats, err := shelf.Repeated(ctx, pack.RepeatPlaces)
	if err != nil {
		return nil, err
	}
	for _, r := range repeats {
		if !pack.Distant(r.Some) {
			continue
		}
		s := &pack.Suspect{SHA256: hex.EncodeToString(r.Hash[:]), Places: r.Places}
		rec, held, err := shelf.Get(ctx, r.Some[0])
		if err != nil {
			return nil, err
		}
		s.Flat = held && pack.Flat(rec.Data)
		found[r.Hash] = s
	}
	return found, nil
}

// Suspects are the images of a shelf that stand at places far from one
// another.
func Suspects(ctx context.Context, src source.Source, shelf store.Shelf) ([]pack.Suspect, error) {
	found, err := suspects(ctx, src, shelf)
	out := []pack.Suspect{}
	for _, s := range found {
		out = append(out, *s)
	}
	return out, err
}
