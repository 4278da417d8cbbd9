package pack

import (
	"context"

	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// prescanned is the result of a first pass over the records, without their images.
type prescanned struct {
	records int64
	share   bool        // keeping repeated images once saves at least a tenth
	format  raster.Kind // the pack's one format
	seal    string      // of the content
}

// prescan is a prescan on its way.
type prescan struct {
	records, all, repeated int64
	seen                   map[[32]byte]bool
	kinds                  map[raster.Kind]int64
	fixed                  bool // the source forbids changing some of its images
	digest                 digest
}

func (t *prescan) add(r store.Held) {
	t.records++
	t.digest.tile(r)
	if r.Hole {
		return
	}
	t.kinds[raster.Kind(r.Media)]++
	t.fixed = t.fixed || r.Fixed
	t.all += int64(r.Bytes)
	if t.seen[r.Hash] {
		t.repeated += int64(r.Bytes)
	}
	t.seen[r.Hash] = true
}

// scanStore proves that every wanted tile is held or a known hole, and counts. It
// reads no image.
func scanStore(ctx context.Context, c Content) (prescan, error) {
	t := prescan{seen: map[[32]byte]bool{}, kinds: map[raster.Kind]int64{}}
	var err error
	if t.digest, err = newDigest(c); err != nil {
		return t, err
	}
	for _, cover := range c.Covers {
		t.digest.cover(cover)
		for h, err := range c.held(ctx, false, cover) {
			if err != nil {
				return t, err
			}
			t.add(h)
		}
	}
	if t.fixed && (c.Quality > 0 && t.kinds[raster.PBF] == 0 || len(t.kinds) > 1) {
		return t, source.Refuse(c.About.Source.Name, "it forbids changing its images (Cache-Control: no-transform), and this pack would have to", fixedRemedy(c))
	}
	return t, nil
}

// shares reports whether keeping repeated images once saves at least a tenth.
func (t *prescan) shares() bool { return t.repeated*10 >= t.all && t.repeated > 0 }

// choose picks the format and the layout of the pack.
func (t *prescan) choose(ctx context.Context, c Content) (prescanned, error) {
	s := prescanned{records: t.records, share: t.shares(), seal: t.digest.sum()}
	var err error
	if s.format, err = chooseFormat(ctx, c, t.kinds); err != nil {
		return s, err
	}
	return s, nil
}

// chooseFormat picks what all tiles become: what they are, or for a mix JPEG
// when nothing is lost by it, else PNG, which keeps transparency.
func chooseFormat(ctx context.Context, c Content, kinds map[raster.Kind]int64) (raster.Kind, error) {
	if n := len(kinds); kinds[raster.PBF] > 0 && n > 1 {
		return "", source.Refuse(c.About.Source.Name, "it mixes vector tiles and pictures, and an MBTiles file has one format", "fetch it again under another name")
	}
	if c.Quality > 0 && kinds[raster.PBF] == 0 {
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
	for h, err := range c.held(ctx, true, c.Covers...) {
		if err != nil {
			return "", err
		}
		if !h.Hole && raster.Kind(h.Media) != raster.JPG && !opaque(h.Data) {
			return raster.PNG, nil
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
