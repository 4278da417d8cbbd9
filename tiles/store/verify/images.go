package verify

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// batch is how many records are judged together: their images are held in
// memory meanwhile.
const batch = 256

// images proves every record, in batches on all workers, and drops what is bad
// when told to mend.
func (p *prover) images(ctx context.Context) error {
	size, err := p.shelf.Size(ctx)
	if err != nil {
		return err
	}
	proved := &proved{known: map[[32]byte]bool{}}
	var recs []store.Held
	var done int64
	flush := func() error {
		err := p.judge(ctx, recs, proved)
		if done += int64(len(recs)); p.o.Progress != nil {
			p.o.Progress(p.report.Name, done, size.Tiles+size.Holes)
		}
		clear(recs)
		recs = recs[:0]
		return err
	}
	for r, err := range p.shelf.All(ctx, true) {
		if text := store.DamageOf(err); text != "" { // the engine found nothing, and yet it cannot be read
			p.add(Flaw{Kind: File, Detail: text})
			break
		}
		if err != nil {
			return err
		}
		if recs = append(recs, r); len(recs) == batch {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	return flush()
}

// judge proves a batch, and drops the bad ones.
func (p *prover) judge(ctx context.Context, recs []store.Held, known *proved) error {
	findings := make([]*Flaw, len(recs))
	group, inner := errgroup.WithContext(ctx)
	group.SetLimit(p.o.Workers)
	for i, r := range recs {
		if r.Ahead(p.o.Now()) {
			p.report.Ahead++
		}
		if r.Hole {
			p.report.Holes++
			continue
		}
		p.report.Tiles++
		if known.has(r) {
			continue
		}
		group.Go(func() error {
			findings[i] = look(r)
			return inner.Err()
		})
	}
	if err := errors.Join(group.Wait(), ctx.Err()); err != nil {
		return err
	}
	var bad []tiles.ID
	for i, f := range findings {
		if f == nil {
			known.add(recs[i])
			continue
		}
		bad = append(bad, recs[i].ID)
	}
	if p.o.Mend && len(bad) > 0 {
		if err := p.shelf.Drop(ctx, bad); err != nil {
			return err
		}
	}
	for _, f := range findings {
		if f != nil {
			f.Mended = p.o.Mend
			p.add(*f)
		}
	}
	return nil
}

// look proves one record with its image; nil is good.
func look(r store.Held) *Flaw {
	id := r.ID
	found := func(kind, detail string, args ...any) *Flaw {
		return &Flaw{Kind: kind, Tile: &id, Detail: fmt.Sprintf(detail, args...)}
	}
	if len(r.Data) == 0 {
		return found(Lost, "tile %v has a record and no image", id)
	}
	if sha256.Sum256(r.Data) != r.Hash {
		return found(Changed, "the image of tile %v is not what was kept (its SHA-256 differs)", id)
	}
	picture, err := decoded(r)
	switch {
	case err != nil:
		return found(Broken, "tile %v: %v", id, err)
	case string(picture.Kind) != r.Media:
		return found(Mistaken, "tile %v is %s, its record says %q", id, picture.Kind, r.Media)
	case len(r.Data) != r.Bytes:
		return found(Mistaken, "tile %v has %d bytes, its record says %d", id, len(r.Data), r.Bytes)
	}
	return nil
}

// decoded decodes an image, which proves the parts too, or a vector tile.
func decoded(r store.Held) (raster.Picture, error) {
	if raster.Kind(r.Media) == raster.PBF {
		_, err := mvt.Decode(r.Data)
		return raster.Picture{Kind: raster.PBF}, err
	}
	_, err := raster.Decode(r.Data)
	picture, _ := raster.Glance(r.Data)
	return picture, err
}

// knownMost bounds the memory for images that stand at many places.
const knownMost = 100_000

// proved remembers images, so that one that stands at many places is decoded
// once.
type proved struct{ known map[[32]byte]bool }

// has reports whether this very image was proved. The bytes come from the same
// row for the same hash; kind and length stand in the record.
func (p *proved) has(r store.Held) bool {
	return p.known[r.Hash] && len(r.Data) == r.Bytes && sha256.Sum256(r.Data) == r.Hash && mediaOf(r.Data) == r.Media
}

func (p *proved) add(r store.Held) {
	if r.Hole {
		return
	}
	if len(p.known) >= knownMost {
		clear(p.known)
	}
	p.known[r.Hash] = true
}

func mediaOf(data []byte) string {
	picture, _ := raster.Glance(data)
	return string(picture.Kind)
}

func orphansText(n int64) string {
	if n == 1 {
		return "1 image is used by no tile"
	}
	return fmt.Sprintf("%d images are used by no tile", n)
}
