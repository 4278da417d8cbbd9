package pack

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// layout is the version of the file's layout, which stands in its header as the user
// version; packs of layouts before 5 have 0 there. Raise it when packs are written in
// another way: existing packs are then rewritten, and earlier programs refuse the new
// ones. Then put a pack of the new layout into testdata/layouts.
const layout = 5

// digest computes the content seal: a hash of everything that decides the pack
// except times, so that a tile that was merely confirmed changes nothing. Times
// count only where the terms limit how long a tile may be kept.
type digest struct {
	h        hash.Hash
	suspects map[string]*Suspect
	dated    bool
}

func newDigest(c Content) (digest, error) {
	d := digest{sha256.New(), byHash(c.Suspects), c.Terms != nil && c.Terms.KeepAtMost > 0}
	d.part(fmt.Sprintf("groundsheet pack, layout %d\n", layout))
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
	// The derived data itself is hashed, not its inputs, so that a program version
	// that derives something else rewrites the pack.
	d.part(string(c.parts.Facts))
	d.part(string(c.parts.Features))
	return d, nil
}

// part adds a text with its length, so that two texts cannot run together.
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

// unchanged is the pack at a path if it was written from the same content. ok is
// false if it was not, cannot be read, states times in the future or lacks the
// requested signature. An error is of the kind [Newer].
func unchanged(ctx context.Context, path, seal string, o WriteOptions) (w Written, ok bool, err error) {
	p, err := Open(ctx, path)
	if errors.Is(err, Newer) {
		return w, false, err
	}
	if err != nil {
		return w, false, nil
	}
	defer p.Close() //nolint:errcheck // only read
	info, err := os.Stat(path)
	if about := p.Info.About; err != nil || !p.Info.Own || p.Info.Seals.Content != seal ||
		len(about.Ahead(o.now())) > 0 || !p.signedBy(ctx, o.Sign) {
		return w, false, nil
	}
	return Written{File: path, Tiles: p.Info.About.Tiles, Holes: p.Info.About.Holes, Bytes: info.Size()}, true, nil
}
