package pack

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// layout counts up when packs are written in another way, so that those that
// stand are written anew.
const layout = "groundsheet pack, layout 4\n"

// digest works out the seal of a content: everything that decides the pack but
// times, so that a tile that was merely confirmed changes nothing. Only where
// the terms say how long a tile may be kept do its times belong to it.
type digest struct {
	h        hash.Hash
	suspects map[string]*Suspect
	dated    bool
}

func newDigest(c Content) (digest, error) {
	d := digest{sha256.New(), byHash(c.Suspects), c.Terms != nil && c.Terms.KeepAtMost > 0}
	d.part(layout)
	for _, v := range []any{c.About, c.Terms, c.Bounds, c.Quality} {
		text, err := json.Marshal(v)
		if err != nil {
			return d, err
		}
		d.part(string(text))
	}
	d.part(string(c.Area))
	for _, o := range c.Overlays {
		d.part(o.ID)
		d.part(o.Summary)
		d.part(o.Features)
	}
	// What was worked out is here itself, not what it was worked out of: so a
	// program that works it out differently writes the pack anew.
	d.part(string(c.parts.Facts))
	d.part(string(c.parts.Features))
	return d, nil
}

// part adds a text with its length, so that two texts are not taken for one.
func (d digest) part(text string) { fmt.Fprintf(d.h, "%d:%s", len(text), text) }

func (d digest) cover(c tiles.Cover) {
	fmt.Fprintf(d.h, "zoom %d\n", c.Zoom())
	for _, s := range c.Spans() {
		fmt.Fprintf(d.h, "%d %d %d\n", s.Row, s.First, s.Last)
	}
}

func (d digest) tile(r store.Held) {
	if d.dated {
		fmt.Fprintf(d.h, "%s ", stamp(r.Fetched))
	}
	if r.Hole {
		fmt.Fprintf(d.h, "%s hole\n", r.ID)
		return
	}
	if d.suspects[hex.EncodeToString(r.Hash[:])] != nil {
		fmt.Fprint(d.h, "suspect ")
	}
	fmt.Fprintf(d.h, "%s %x %s\n", r.ID, r.Hash, r.Media)
}

func (d digest) sum() string { return hex.EncodeToString(d.h.Sum(nil)) }

// standing is the pack that stands at a path when it was written from the same
// content; ok is false when it was not, cannot be read, states times that are still to
// come, or lacks the signature asked for.
func standing(ctx context.Context, path, seal string, o WriteOptions) (w Written, ok bool) {
	p, err := Open(ctx, path)
	if err != nil {
		return w, false
	}
	defer p.Close() //nolint:errcheck // only read
	info, err := os.Stat(path)
	if about := p.Info.About; err != nil || !p.Info.Own || p.Info.Seals.Content != seal || len(about.Ahead(o.now())) > 0 || !p.signedBy(ctx, o.Sign) {
		return w, false
	}
	return Written{File: path, Tiles: p.Info.About.Tiles, Holes: p.Info.About.Holes, Bytes: info.Size()}, true
}
