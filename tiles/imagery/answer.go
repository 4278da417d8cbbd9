package imagery

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"net/http"
	"strings"
	"sync"

	"groundsheet/tiles"
	"groundsheet/tiles/answer"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// Answerer answers requests for tiles of the operator's own pictures. Make it
// with [Open]; it is safe for concurrent use until it is closed.
type Answerer struct {
	Template string // address of a tile, for source.Source.Templates
	*opening

	pictures []picture // the later over the earlier

	children chan struct{} // holds one for each that runs

	mu     sync.Mutex
	blocks []*block // the latest first
}

const (
	mostChildren = 2 // at once, whatever the terms allow: each takes some 150 MB
	keptBlocks   = 2 // besides one for each worker, at 16 MB each
)

// block is a square of tiles that is warped together.
type block struct {
	first tiles.ID
	done  chan struct{} // closed when the rest is set
	img   *image.NRGBA  // nil = no picture there
	err   error
}

// Open looks at the pictures of a source of kind raster. remote is nil for files
// of this computer. The fault is [Unusable] or gdal.Missing.
func Open(ctx context.Context, src source.Source, remote *Remote) (*Answerer, error) {
	o, err := start(ctx, src, remote)
	if err != nil {
		return nil, err
	}
	a := &Answerer{Template: answer.Template("imagery"), opening: o, children: make(chan struct{}, mostChildren)}
	if a.pictures, _, err = o.all(ctx); err != nil {
		return nil, errors.Join(err, o.close())
	}
	return a, nil
}

// Close ends the answering.
func (a *Answerer) Close() error { return a.close() }

// RoundTrip answers a request for [Answerer.Template]: 200 with the tile, 304 if
// the validators sent still hold, 404 where no picture is. The error is a fault of
// a picture, or one of the disk.
func (a *Answerer) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body != nil {
		defer r.Body.Close()
	}
	h := answer.Header()
	id, err := tiles.ParseID(strings.TrimPrefix(r.URL.Path, "/"))
	if err != nil {
		return answer.Response(r, http.StatusNotFound, h, nil), nil
	}
	first, n := a.src.Batch(id)
	touching := a.touching(first, n)
	tag := a.tag(id, touching)
	if len(touching) > 0 && r.Header.Get("If-None-Match") == tag {
		return answer.Tile(r, h, tag, nil), nil
	}
	whole, err := a.block(r.Context(), first, n)
	if err != nil {
		return a.refused(r, h, err)
	}
	data, err := a.tile(whole, id.X-first.X, id.Y-first.Y)
	switch {
	case err != nil:
		return nil, err
	case data == nil:
		return answer.Response(r, http.StatusNotFound, h, nil), nil
	}
	return answer.Tile(r, h, tag, data), nil
}

// refused passes on what the server of a remote picture answered, if that is why.
func (a *Answerer) refused(r *http.Request, h http.Header, err error) (*http.Response, error) {
	if a.remote == nil || a.remote.Refused == nil || r.Context().Err() != nil {
		return nil, err
	}
	status, retryAfter := a.remote.Refused()
	if status == 0 {
		return nil, err
	}
	if retryAfter != "" {
		h.Set("Retry-After", retryAfter)
	}
	return answer.Response(r, status, h, nil), nil
}

// touching are the pictures that touch a block, with a little more than their
// corners say: edges that are straight in their own system are not so here.
func (a *Answerer) touching(first tiles.ID, n int) (out []*picture) {
	box := first.Bounds().Join(tiles.ID{Z: first.Z, X: first.X + uint32(n) - 1, Y: first.Y + uint32(n) - 1}.Bounds())
	for i := range a.pictures {
		b := a.pictures[i].box
		x, y := (b.East-b.West)/100, (b.North-b.South)/100
		if b.West-x < box.East && b.East+x > box.West && b.South-y < box.North && b.North+y > box.South {
			out = append(out, &a.pictures[i])
		}
	}
	return out
}

// tag names what a tile is made of: the pictures that touch its block, as they
// are now, and how they are read.
func (a *Answerer) tag(id tiles.ID, touching []*picture) string {
	sum := sha256.New()
	fmt.Fprintf(sum, "1 %v %s", id, a.src.Fingerprint())
	for _, p := range touching {
		fmt.Fprintf(sum, "\n%s %d %d", p.name, p.stamp.size, p.stamp.modified.UnixNano())
	}
	if a.remote != nil {
		fmt.Fprintf(sum, "\n%d %s %d", a.remote.Size, a.remote.Tag, a.remote.Modified.UnixNano())
	}
	return `"` + hex.EncodeToString(sum.Sum(nil)[:16]) + `"`
}

// tile cuts a tile from a block: nil when no pixel of it is there. Where only a
// part of it is there, the rest is the stated background, or transparent, which
// takes a PNG.
func (a *Answerer) tile(whole *image.NRGBA, column, row uint32) ([]byte, error) {
	if whole == nil {
		return nil, nil
	}
	side := a.src.TileSize
	at := image.Pt(int(column)*side, int(row)*side)
	part, _ := whole.SubImage(image.Rectangle{Min: at, Max: at.Add(image.Pt(side, side))}).(*image.NRGBA)
	kind := raster.JPG
	if a.src.Format == "image/png" {
		kind = raster.PNG
	}
	switch some, all := presence(part); {
	case !some:
		return nil, nil
	case !all:
		color, stated := a.src.BackgroundColor()
		if !stated {
			kind = raster.PNG
			break
		}
		part = over(part, color)
	}
	data, _, err := raster.Cut(part, kind, 0, 0, side)
	return data, err
}

// presence reports whether some and whether all pixels are there.
func presence(img *image.NRGBA) (some, all bool) {
	all = true
	for y := range img.Rect.Dy() {
		line := img.Pix[y*img.Stride : y*img.Stride+4*img.Rect.Dx()]
		for i := 3; i < len(line); i += 4 {
			some = some || line[i] > 0
			all = all && line[i] == 255
		}
		if some && !all {
			return some, all
		}
	}
	return some, all
}

// over is a picture over a color.
func over(img *image.NRGBA, color [3]uint8) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, img.Rect.Dx(), img.Rect.Dy()))
	for y := range out.Rect.Dy() {
		from, to := img.Pix[y*img.Stride:], out.Pix[y*out.Stride:]
		for i := 0; i < 4*out.Rect.Dx(); i += 4 {
			a := uint32(from[i+3])
			for k := range 3 {
				to[i+k] = uint8((uint32(from[i+k])*a + uint32(color[k])*(255-a) + 127) / 255)
			}
			to[i+3] = 255
		}
	}
	return out
}
