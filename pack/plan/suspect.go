package plan

import (
	"context"
	"encoding/hex"

	"groundsheet/pack"
	"groundsheet/tiles/store"
)

// suspects looks for images that stand at distant places, by their hashes.
func suspects(ctx context.Context, shelf store.Shelf) (map[[32]byte]*pack.Suspect, error) {
	found := map[[32]byte]*pack.Suspect{}
	if shelf == nil {
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
func Suspects(ctx context.Context, shelf store.Shelf) ([]pack.Suspect, error) {
	found, err := suspects(ctx, shelf)
	out := []pack.Suspect{}
	for _, s := range found {
		out = append(out, *s)
	}
	return out, err
}
