package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"

	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// outcome is what is to be written for a tile.
type outcome struct {
	store.Held
	confirmed bool // 304: only times, validators and marks
	withdrawn bool // the held image stays although the source has none
	alone     bool // nobody else has Data: its room is used again once it is written
}

// judge turns a reply into what is to be written for every tile of a job, or
// says what is wrong with it. Statuses that say nothing of a tile are sorted
// out before.
func (r *run) judge(j job, with conditions, rep reply) ([]outcome, *trouble, error) {
	switch rep.status {
	case http.StatusOK:
		return r.images(j, rep)
	case http.StatusNotModified:
		if bad := contradicts(with, rep.header); bad != nil {
			return nil, bad, nil
		}
		if err := r.mayKeep(rep); err != nil {
			return nil, nil, err
		}
		return each(j, func(w Want) outcome { return outcome{Held: r.confirmed(w, rep), confirmed: true} }), nil, nil
	}
	return each(j, func(w Want) outcome { return r.absent(w, rep) }), nil, nil
}

func each(j job, of func(Want) outcome) []outcome {
	var out []outcome
	for _, w := range j.wants {
		out = append(out, of(w))
	}
	return out
}

// contradicts says why a 304 does not confirm what is held (RFC 9111, 4.3.4):
// a strong tag must be the very one that is held, a weak one may match weakly,
// and without a tag the time must be the same. One that names nothing answers
// the only thing that was asked.
func contradicts(with conditions, h http.Header) *trouble {
	etag, modified := h.Get("ETag"), h.Get("Last-Modified")
	same := true
	switch {
	case with.none():
		return &trouble{why: "304 although nothing was held that it could confirm", unasked: true}
	case etag != "" && with.etag != "" && strings.HasPrefix(etag, "W/"):
		same = opaque(etag) == opaque(with.etag)
	case etag != "" && with.etag != "":
		same = etag == with.etag
	case modified != "" && with.modified != "":
		same = modified == with.modified
	}
	if same {
		return nil
	}
	return &trouble{why: "304 for another version than the one held", unasked: true}
}

// opaque is the tag for the weak comparison (RFC 9110, 8.8.3.2).
func opaque(etag string) string { return strings.TrimPrefix(etag, "W/") }

// images takes a picture only when it is whole.
func (r *run) images(j job, rep reply) ([]outcome, *trouble, error) {
	side := j.n * r.src.TileSize
	picture, err := raster.Prove(rep.body, side)
	var flaw *raster.Flaw
	if errors.As(err, &flaw) && flaw.Why == raster.WrongSize {
		return nil, &trouble{why: err.Error() + ": set tile_size in sources.toml to what the source sends"}, nil
	}
	if err != nil {
		return nil, &trouble{why: err.Error()}, nil
	}
	if j.n > 1 {
		return r.cut(j, rep, picture.Kind)
	}
	out := r.image(j.wants[0], rep, rep.body, picture.Kind)
	out.alone = !rep.shared
	return []outcome{out}, nil, nil
}

// cut makes tiles of the picture of a block. Each carries the validators of
// the block, so that they are confirmed together.
func (r *run) cut(j job, rep reply, from raster.Kind) ([]outcome, *trouble, error) {
	if rep.says.noTransform() {
		return nil, nil, r.stopped(StopNoTransform, "the source sends Cache-Control: no-transform, which forbids cutting the pictures of several tiles that it sends (RFC 9111, 5.2.2.6)", nil,
			"set metatile = 1 for the source in sources.toml: then every tile is asked for by itself")
	}
	whole, err := raster.Decode(rep.body)
	if err != nil {
		return nil, &trouble{why: err.Error()}, nil
	}
	var out []outcome
	for _, w := range j.wants {
		data, kind, err := raster.Cut(whole, from, w.X-j.first.X, w.Y-j.first.Y, r.src.TileSize)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, r.image(w, rep, data, kind))
	}
	return out, nil, nil
}

// image is a tile that came. What the operator named as a placeholder is no
// image of the ground.
func (r *run) image(w Want, rep reply, data []byte, kind raster.Kind) outcome {
	rec := r.record(w.ID, rep)
	rec.Data, rec.Media = data, string(kind)
	rec = store.Hashed(rec)
	if r.src.Placeholder(rec.Hash) {
		return r.absent(w, rep)
	}
	return outcome{Held: rec}
}

// body reads the answer up to the limit and checks its length.
func (r *run) body(ctx context.Context, resp *http.Response) ([]byte, *trouble, error) {
	if bad := encoded(resp.Header); bad != nil {
		return nil, bad, nil
	}
	tooLong := &trouble{why: fmt.Sprintf("the answer is longer than %d bytes", r.o.MaxBytes)}
	if resp.ContentLength > r.o.MaxBytes {
		return nil, tooLong, nil
	}
	buf := r.rooms.take(roomFor(resp.ContentLength))
	n, err := buf.ReadFrom(io.LimitReader(resp.Body, r.o.MaxBytes+1))
	r.count(func(t *Tally) { t.Received += n })
	switch {
	case n > r.o.MaxBytes:
		return nil, tooLong, nil
	case errors.Is(err, io.ErrUnexpectedEOF) || err == nil && resp.ContentLength >= 0 && n != resp.ContentLength:
		return nil, &trouble{why: cutShort(n, resp.ContentLength), outage: true}, nil
	case err != nil:
		bad, err := r.broken(ctx, err)
		return nil, bad, err
	}
	if resp.ContentLength < 0 {
		return r.rooms.fitted(buf), nil, nil
	}
	return buf.Bytes(), nil, nil
}

func cutShort(n, of int64) string {
	if of < 0 {
		return fmt.Sprintf("the answer was cut short after %d bytes", n)
	}
	return fmt.Sprintf("the answer was cut short: %d of %d bytes", n, of)
}

// encoded refuses an answer that is packed although it was asked for as it is:
// unpacking it could fill any memory. The name is not repeated unless it is a
// usual one: it is the source's own text.
func encoded(h http.Header) *trouble {
	name := strings.ToLower(strings.TrimSpace(h.Get("Content-Encoding")))
	switch name {
	case "", "identity":
		return nil
	case "gzip", "x-gzip", "deflate", "br", "zstd", "compress":
	default:
		name = "another way"
	}
	return &trouble{why: "the answer is packed (" + name + ") although it was asked for as it is"}
}
