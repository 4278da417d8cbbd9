package fetch

import (
	"errors"
	"net/http"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// outcome is the record to write for a tile.
type outcome struct {
	store.Held
	confirmed bool // 304: only times, validators and marks
	withdrawn bool // the held image stays although the source no longer has it
}

// recorder turns responses into records.
type recorder struct {
	src source.Source
	now func() time.Time
}

// outcomes turns a reply into the records of a job's tiles. A *[Stop] says what
// is wrong with it.
func (r recorder) outcomes(j task, with httpcache.Validators, rep reply) ([]outcome, error) {
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

// images takes a picture only if it is complete, and a vector tile likewise.
func (r recorder) images(j task, rep reply) ([]outcome, error) {
	if r.src.Vector() {
		if _, err := mvt.Decode(rep.body); err != nil {
			return nil, retry(err.Error())
		}
		return []outcome{r.image(j.wants[0], rep, mvt.Pack(rep.body), raster.PBF)}, nil
	}
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
	return []outcome{r.image(j.wants[0], rep, rep.body, picture.Kind)}, nil
}

// cut makes tiles of the picture of a block. Each gets the validators of the
// block, so that they are confirmed together.
func (r recorder) cut(j task, rep reply, from raster.Kind) ([]outcome, error) {
	if rep.Control.Has("no-transform") {
		return nil, stopRun(r.src, StopNoTransform,
			"the source sends Cache-Control: no-transform, which forbids cutting the pictures of several tiles that it sends (RFC 9111, 5.2.2.6)", nil,
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

// mayKeep is a *[Stop] if the source forbids keeping what it sends, or sends it
// for one person alone, and gave no permission of its own.
func mayKeep(src source.Source, rep reply) error {
	if src.Terms.Offline == source.OfflinePermission {
		return nil
	}
	const remedy = `ask the provider; with their permission set offline = "permission" in the terms and say who gave it`
	switch {
	case rep.NoStore():
		return stopRun(src, StopNoStore, "the source sends Cache-Control: no-store, which forbids keeping its tiles (RFC 9111, 5.2.2.5)", nil, remedy)
	case rep.Control.Private():
		return stopRun(src, StopPrivate,
			"the source sends Cache-Control: private: its tiles are for one person alone (RFC 9111, 5.2.2.7), and a pack goes to a crew", nil, remedy)
	}
	return nil
}

// record is the origin and the marks of a response: fresh as long as it says,
// at least as long as the terms say, and never longer than they allow.
func (r recorder) record(id tiles.ID, rep reply) store.Held {
	fresh := rep.Freshness()
	rec := store.Held{
		Fixed:     rep.Control.Has("no-transform"),
		Immutable: rep.Immutable(),
		Tile: tiles.Tile{ID: id, Origin: tiles.Origin{
			Source: r.src.Name, Fetched: rep.Received.UTC(),
			ETag:         r.validator(rep, "ETag"),
			LastModified: r.validator(rep, "Last-Modified"),
		}},
	}
	if extra := rep.StaleIfError(); extra > 0 {
		rec.UsableUntil = rec.Fetched.Add(fresh + extra)
	}
	return r.within(rec, fresh)
}

// within sets how long a record is fresh, between the limits of the terms.
func (r recorder) within(rec store.Held, fresh time.Duration) store.Held {
	rec.FreshUntil = rec.Fetched.Add(max(fresh, time.Duration(r.src.Terms.KeepAtLeast)))
	if most := time.Duration(r.src.Terms.KeepAtMost); most > 0 {
		last := rec.Fetched.Add(most)
		for _, until := range []*time.Time{&rec.FreshUntil, &rec.UsableUntil} {
			if last.Before(*until) {
				*until = last
			}
		}
	}
	return rec
}

// confirmed updates a held tile by the fields of a 304 (RFC 9111, 3.2 and
// 4.3.4). A source repeats Cache-Control and Expires where it would send them
// with a 200 (RFC 9110, 15.4.5). If it does not, the held marks stay, and a
// heuristic gives no longer freshness than the tile had.
func (r recorder) confirmed(w Want, rep reply) store.Held {
	h := rep.Header.Clone()
	if h.Get("Last-Modified") == "" && w.Held.LastModified != "" {
		h.Set("Last-Modified", w.Held.LastModified)
	}
	rep.Header, rep.Status = h, http.StatusOK
	rec := r.record(w.ID, rep)
	if rec.ETag == "" {
		rec.ETag = w.Held.ETag
	}
	if rec.LastModified == "" {
		rec.LastModified = w.Held.LastModified
	}
	if len(h.Values("Cache-Control"))+len(h.Values("Expires")) > 0 {
		return rec
	}
	rec.Fixed, rec.Immutable = w.Held.Fixed, w.Held.Immutable
	fresh := min(rep.Freshness(), max(w.Held.FreshUntil.Sub(w.Held.Fetched), 0))
	if extra := w.Held.UsableUntil.Sub(w.Held.FreshUntil); !w.Held.UsableUntil.IsZero() && extra > 0 {
		rec.UsableUntil = rec.Fetched.Add(fresh + extra)
	}
	return r.within(rec, fresh)
}

// absent is a hole: the source says it has no such tile. A held image stays,
// unless the source says that it is gone for good.
func (r recorder) absent(w Want, rep reply) outcome {
	hole := r.record(w.ID, rep)
	hole.Hole, hole.ETag, hole.LastModified, hole.Fixed, hole.Immutable = true, "", "", false, false
	if rep.NoStore() || rep.Control.Private() {
		// Nothing of such a response may be kept. The hole is our own
		// note, and is stale at once.
		hole.FreshUntil, hole.UsableUntil = hole.Fetched, time.Time{}
	}
	return r.holeOrHeld(w, hole, rep.Status)
}

// outside is a hole that was not asked for: the source's own description says
// that it has no such tile.
func (r recorder) outside(w Want) outcome {
	hole := store.Held{Hole: true, Tile: tiles.Tile{ID: w.ID,
		Origin: tiles.Origin{Source: r.src.Name, Fetched: r.now().UTC()}}}
	return r.holeOrHeld(w, r.within(hole, 0), http.StatusNotFound)
}

// holeOrHeld is the hole, or the held image in its place: stale, and asked for
// again when the hole would be.
func (r recorder) holeOrHeld(w Want, hole store.Held, status int) outcome {
	if !w.hasImage() || status == http.StatusGone {
		return outcome{Held: hole}
	}
	rec := w.Held
	rec.ID, rec.Data, rec.FreshUntil = w.ID, nil, hole.FreshUntil
	return outcome{Held: rec, withdrawn: true}
}

// validator is a field that can be sent back: not one that repeats the key.
func (r recorder) validator(rep reply, name string) string {
	s := rep.Validator(name)
	if r.src.Redact(s) != s {
		return ""
	}
	return s
}
