package pack

import (
	"context"
	"fmt"

	"iter"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// surveyed is what a first look at the records, without their images, tells.
type surveyed struct {
	records int64
	share   bool        // keeping repeated images once saves at least a tenth
	format  raster.Kind // the pack's one format
}

// tally is a survey on its way.
type tally struct {
	records, all, repeated int64
	seen                   map[[32]byte]bool
	kinds                  map[raster.Kind]int64
	fixed                  bool // the source forbids changing some of its images
}

func (t *tally) add(r store.Record) error {
	t.records++
	if r.Hole {
		return nil
	}
	t.kinds[raster.Kind(r.Media)]++
	t.fixed = t.fixed || r.Fixed
	t.all += int64(r.Bytes)
	if t.seen[r.Hash] {
		t.repeated += int64(r.Bytes)
	}
	t.seen[r.Hash] = true
	return nil
}

// survey proves that every wanted tile is held or a known hole, and chooses
// the format and the layout of the pack.
func survey(ctx context.Context, c Content) (surveyed, error) {
	t := tally{seen: map[[32]byte]bool{}, kinds: map[raster.Kind]int64{}}
	for _, cover := range c.Covers {
		if err := eachWanted(cover, c.Tiles(ctx, cover, false), t.add); err != nil {
			return surveyed{}, unwrapHeld(err)
		}
	}
	s := surveyed{records: t.records, share: t.repeated*10 >= t.all && t.repeated > 0}
	var err error
	if s.format, err = chooseFormat(ctx, c, t.kinds); err != nil {
		return s, err
	}
	if t.fixed && (c.Quality > 0 || len(t.kinds) > 1) {
		return s, &source.Refused{Source: c.About.Source.Name, Why: "it forbids changing its images (Cache-Control: no-transform), and this pack would have to", Remedy: fixedRemedy(c)}
	}
	return s, nil
}

func unwrapHeld(err error) error {
	if held, ok := err.(*heldError); ok { //nolint:errorlint // made here, never wrapped
		return held.err
	}
	return err
}

// eachWanted walks a cover and its records together. A wanted tile without a
// record, or an error of the store, ends it: a pack never lies.
func eachWanted(cover tiles.Cover, records iter.Seq2[store.Record, error], each func(store.Record) error) error {
	next, stop := iter.Pull(cover.All())
	defer stop()
	lost := func(t tiles.ID) error {
		return &heldError{fmt.Errorf("tile %v is wanted but not in the office store: run pack again to fetch it", t)}
	}
	for r, err := range records {
		if err != nil {
			return &heldError{err}
		}
		if t, ok := next(); !ok || t != r.ID {
			return lost(t)
		}
		if err := each(r); err != nil {
			return err
		}
	}
	if t, more := next(); more {
		return lost(t)
	}
	return nil
}

// chooseFormat picks what all tiles become: what they are, or for a mix JPEG
// when nothing is lost by it, else PNG, which keeps transparency.
func chooseFormat(ctx context.Context, c Content, kinds map[raster.Kind]int64) (raster.Kind, error) {
	if c.Quality > 0 {
		return raster.JPG, nil
	}
	if len(kinds) == 1 {
		for k := range kinds {
			return k, nil
		}
	}
	if kinds[raster.JPG] == 0 {
		return raster.PNG, nil
	}
	for _, cover := range c.Covers {
		for r, err := range c.Tiles(ctx, cover, true) {
			if err != nil {
				return "", err
			}
			if !r.Hole && raster.Kind(r.Media) != raster.JPG && !opaque(r.Data) {
				return raster.PNG, nil
			}
		}
	}
	return raster.JPG, nil
}

func opaque(data []byte) bool {
	img, err := raster.Decode(data)
	if err != nil {
		return false // the writing pass names it
	}
	o, ok := img.(interface{ Opaque() bool })
	return ok && o.Opaque()
}

func fixedRemedy(c Content) string {
	if c.Quality > 0 {
		return "take jpeg_quality out of the job"
	}
	return "it mixes image formats, and an MBTiles file has one: ask the provider for one format"
}
