package fetch

import (
	"errors"
	"net/http"
	"time"

	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// outcome is the record to write for a tile.
type outcome struct {
	store.Held
	confirmed bool // 304: only times, validators and marks
	withdrawn bool // the held image stays although the source no longer has it
	alone     bool // no other outcome shares Data: its buffer is reused once it is written
}

// recorder turns responses into records.
type recorder struct {
	src source.Source
	now func() time.Time
}

// outcomes turns a reply into the records of a job's tiles. A *[Stop] says what
// is wrong with it.
func (r recorder) outcomes(j job, with httpcache.Validators, rep reply) ([]outcome, error) {
	of := func(w Want) outcome { return r.absent(w, rep) }
	switch rep.Status {
	case http.StatusOK:
		return r.images(j, rep)
	case http.StatusNotModified:
		if !with.Confirmed(rep.Header) {
			s := retry("304 for another version than the one held")
			if s.plain = true; with == (httpcache.Validators{}) {
				s.Detail = "304 although nothing was held that it could confirm"
			}
			return nil, s
		}
		if err := mayKeep(r.src, rep); err != nil {
			return nil, err
		}
		of = func(w Want) outcome { return outcome{Held: r.confirmed(w, rep), confirmed: true} }
	}
	var out []outcome
	for _, w := range j.wants {
		out = append(out, of(w))
	}
	return out, nil
}

// images takes a picture only if it is complete.
func (r recorder) images(j job, rep reply) ([]outcome, error) {
	picture, err := raster.Prove(rep.body, j.n*r.src.TileSize)
	if errors.Is(err, raster.WrongSize) {
		return nil, retry(err.Error() + ": set tile_size in sources.toml to what the source sends")
	}
	if err != nil {
		return nil, retry(err.Error())
	}
	if j.n > 1 {
		return r.cut(j, rep, picture.Kind)
	}
	out := r.image(j.wants[0], rep, rep.body, picture.Kind)
	out.alone = !rep.shared
	return []outcome{out}, nil
}

// cut makes tiles of the picture of a block. Each gets the validators of the
// block, so that they are confirmed together.
func (r recorder) cut(j job, rep reply, from raster.Kind) ([]outcome, error) {
	if rep.Control.Has("no-transform") {
		return nil, stopRun(r.src, StopNoTransform, "the source sends Cache-Control: no-transform, which forbids cutting the pictures of several tiles that it sends (RFC 9111, 5.2.2.6)", nil,
			"set metatile = 1 for the source in sources.toml: then every tile is asked for by itself")
	}
	whole, err := raster.Decode(rep.body)
	if err != nil {
		return nil, retry(err.Error())
	}
	var out []outcome
	for _, w := range j.wants {
		data, kind, err := raster.Cut(whole, from, w.X-j.first.X, w.Y-j.first.Y, r.src.TileSize)
		if err != nil {
			return nil, err
		}
		out = append(out, r.image(w, rep, data, kind))
	}
	return out, nil
}

// image is a tile that came. What the operator named as a placeholder is not an
// image of the ground.
func (r recorder) image(w Want, rep reply, data []byte, kind raster.Kind) outcome {
	rec := r.record(w.ID, rep)
	rec.Data, rec.Media = data, string(kind)
	rec = store.Hashed(rec)
	if r.src.Placeholder(rec.Hash) {
		return r.absent(w, rep)
	}
	return outcome{Held: rec}
}
