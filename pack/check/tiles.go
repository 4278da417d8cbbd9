package check

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
	"groundsheet/tiles/words"
)

// tiles compares what is wanted with what the pack says it holds, and proves
// each pair on all cores.
func (c *checker) tiles(ctx context.Context) error {
	var mu sync.Mutex
	group, inner := errgroup.WithContext(ctx)
	group.SetLimit(c.workers())
	var broken error
	for pair, err := range store.Compare(inner, c.pack, false, c.covers...) {
		if broken = err; err != nil || inner.Err() != nil {
			break
		}
		if pair.Held.Hole {
			c.report.Holes++
		}
		group.Go(func() error {
			f, held, err := c.tile(inner, pair)
			mu.Lock()
			defer mu.Unlock()
			c.count(pair.ID, f, held)
			return err
		})
	}
	if err := errors.Join(group.Wait(), ctx.Err()); err != nil || broken == nil {
		return err
	}
	return c.damaged(broken)
}

func (c *checker) count(t tiles.ID, f *Finding, held bool) {
	if held {
		c.report.TilesHeld++
	}
	if f != nil {
		c.add(f.Kind, f.Severity, &t, f.Detail)
	}
	if c.opts.Progress != nil {
		c.opts.Progress(c.report.TilesHeld, c.report.TilesWanted)
	}
}

func (c *checker) workers() int {
	if c.opts.Gently {
		return 1
	}
	return runtime.GOMAXPROCS(0)
}

// rest leaves the processor to others for as long as a tile took.
func (c *checker) rest(ctx context.Context, began time.Time) {
	if !c.opts.Gently {
		return
	}
	select {
	case <-time.After(min(time.Since(began), longestRest)):
	case <-ctx.Done():
	}
}

// longestRest bounds the rest after a tile during which the computer slept.
const longestRest = 100 * time.Millisecond

// tile proves one pair; held is whether the file has an image there.
func (c *checker) tile(ctx context.Context, p store.Pair) (f *Finding, held bool, err error) {
	defer c.rest(ctx, time.Now())
	data, err := c.pack.Tile(ctx, p.ID)
	if err != nil {
		return found("damaged", Fault, err.Error()), false, ctx.Err()
	}
	if data == nil {
		f, err = c.absent(ctx, p)
		return f, false, err
	}
	return c.image(p, data), true, nil
}

func found(kind, severity, detail string) *Finding {
	return &Finding{Kind: kind, Severity: severity, Detail: detail}
}

// absent judges a wanted tile that is not in the file.
func (c *checker) absent(ctx context.Context, p store.Pair) (*Finding, error) {
	lon, lat := p.ID.Center()
	at := fmt.Sprintf("%.6f, %.6f", lat, lon)
	if !p.Held.Hole {
		return found("missing", Fault, words.Say("check.tile_missing", "tile", p.ID, "place", at)), nil
	}
	from, data, err := c.pack.Nearest(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return found("blank", Fault, words.Say("check.tile_blank", "tile", p.ID, "place", at)), nil
	}
	return found("hole", Warning, words.Say("check.tile_hole", "tile", p.ID, "place", at, "zoom", from.Z)), nil
}

// image proves one packed image; nil when nothing is wrong with it. Bytes that are
// those that were packed were proved before ([pack.Content].Tiles); others are decoded.
func (c *checker) image(p store.Pair, data []byte) *Finding {
	sum := sha256.Sum256(data)
	own, side := c.pack.Info.Own, c.pack.Info.About.TileSize
	picture, err := raster.Glance(data)
	if c.report.Deep || p.Held.Hash != sum {
		_, err = raster.Decode(data)
	}
	if c.pack.Vector() {
		picture, err = raster.Picture{Kind: raster.PBF, Width: side, Height: side}, nil // it has no pixels
		if c.report.Deep || p.Held.Hash != sum {
			_, err = mvt.Decode(data)
		}
	}
	switch {
	case err != nil:
		return found("unreadable", Fault, fmt.Sprintf("tile %v: %v", p.ID, err))
	case own && (picture.Width != side || picture.Height != side):
		return found("wrong size", Fault, words.Say("check.tile_size", "tile", p.ID, "width", picture.Width,
			"height", picture.Height, "side", side))
	case string(picture.Kind) != c.pack.Info.Format:
		return found("wrong format", Fault, words.Say("check.tile_format", "tile", p.ID, "is", picture.Kind,
			"declared", c.pack.Info.Format))
	case !own:
		c.repeats.add(p.ID, data, sum)
	case p.Held.Hash != sum:
		return found("changed", Fault, words.Say("check.tile_changed", "tile", p.ID))
	case c.repeats.named[hex.EncodeToString(sum[:])]:
		return found("placeholder", Warning, words.Say("check.tile_repeated", "tile", p.ID))
	}
	return nil
}

// strays names tiles that nobody wanted; in another program's file, which says
// nothing of what it holds, it proves each tile.
func (c *checker) strays(ctx context.Context) error {
	byZoom := map[uint32]tiles.Cover{}
	for _, cover := range c.covers {
		byZoom[uint32(cover.Zoom())] = cover
	}
	places, wanted := 0, int64(0)
	defer func() {
		if n := wanted - c.report.TilesHeld; c.pack.Info.Own && n > 0 {
			c.add("changed", Fault, nil, words.Say("check.tile_twice", "n", n))
		}
		if places == 0 {
			c.add("empty", Fault, nil, words.Say("check.no_tiles"))
		}
	}()
	for t, err := range c.pack.Places(ctx) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			c.add("damaged", Fault, nil, err.Error())
			return nil
		}
		places++
		switch {
		case !t.Valid():
			c.add("impossible", Fault, nil, words.Say("check.tile_impossible"))
		case !c.pack.Info.Own && c.opts.Against == nil:
			f, held, err := c.tile(ctx, store.Pair{ID: t})
			if err != nil {
				return err
			}
			c.report.TilesWanted++
			c.count(t, f, held)
		case byZoom[t.Z].Has(t):
			wanted++
		default:
			if err := c.unwanted(ctx, t); err != nil {
				return err
			}
			c.add("stray", Note, &t, words.Say("check.tile_stray", "tile", t))
		}
	}
	return nil
}

// unwanted judges a tile that the job does not want. One that was not packed is
// no part of the pack, and phones would show it.
func (c *checker) unwanted(ctx context.Context, t tiles.ID) error {
	if !c.pack.Info.Own {
		return nil
	}
	only := tiles.NewCover(int(t.Z), []tiles.Span{{Row: t.Y, First: t.X, Last: t.X}})
	for p, err := range store.Compare(ctx, c.pack, false, only) {
		if err != nil {
			return c.damaged(err)
		}
		if !p.Has || p.Held.Hole {
			c.add("changed", Fault, &t, words.Say("check.part_foreign", "part", fmt.Sprintf("tile %v", t)))
		}
	}
	return nil
}

// mostImages bounds what is remembered of another program's file.
const mostImages = 1 << 20

// repeats finds images that stand at places far from one another: most likely
// "no imagery here". A pack of our own names them itself, from all that the
// office has fetched; in another program's file only its own tiles can tell.
type repeats struct {
	named map[string]bool // by SHA-256 of the packed image, in hex

	mu   sync.Mutex
	seen map[[16]byte]*repeat
}

type repeat struct {
	tiles  int
	places []tiles.ID // the first, and corners of the box round all
	flat   bool
}

func newRepeats(p *pack.Pack) *repeats {
	r := &repeats{named: map[string]bool{}, seen: map[[16]byte]*repeat{}}
	for _, s := range p.Info.About.Suspects {
		r.named[s.Packed] = true
	}
	return r
}

// add counts a tile of another program's file.
func (r *repeats) add(t tiles.ID, data []byte, sum [32]byte) {
	key := [16]byte(sum[:16])
	r.mu.Lock()
	defer r.mu.Unlock()
	one := r.seen[key]
	if one == nil {
		if len(r.seen) < mostImages {
			r.seen[key] = &repeat{tiles: 1, places: []tiles.ID{t}}
		}
		return
	}
	if one.tiles++; one.tiles == 2 {
		one.flat = pack.Flat(data)
	}
	if len(one.places) < 3 || !pack.Distant(one.places) {
		one.places = append(one.places[:min(len(one.places), 2)], t)
	}
}

// noImagery adds the images that show nothing of the ground.
func (c *checker) noImagery(context.Context) error {
	a := c.pack.Info.About
	if a.Placeholders > 0 {
		c.add("placeholder", Warning, nil, words.Say("check.placeholders", "n", a.Placeholders))
	}
	for _, s := range a.Suspects {
		c.add("placeholder", Warning, nil, s.Words())
	}
	for _, one := range c.repeats.seen {
		if one.tiles >= 3 && !one.flat && pack.Distant(one.places) {
			t := one.places[0]
			c.add("placeholder", Warning, &t, words.Say("check.repeated", "n", one.tiles, "tile", t))
		}
	}
	if until := a.KeepUntil; until != nil && c.opts.Now().After(*until) {
		c.add("terms", Fault, nil, words.Say("check.terms_ended", "source", a.Source.Name, "time", measure.Moment(*until)))
	}
	return nil
}
