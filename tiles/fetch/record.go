package fetch

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// mayKeep ends the run when the source forbids keeping what it sends, or sends
// it for one person alone, and no permission of its own was given.
func (r *run) mayKeep(rep reply) error {
	if r.src.Terms.Offline == source.OfflinePermission {
		return nil
	}
	const remedy = `ask the provider; with their permission set offline = "permission" in the terms and say who gave it`
	switch {
	case rep.says.noStore(rep.status):
		return r.stopped(StopNoStore, "the source sends Cache-Control: no-store, which forbids keeping its tiles (RFC 9111, 5.2.2.5)", nil, remedy)
	case rep.says.private():
		return r.stopped(StopPrivate, "the source sends Cache-Control: private: its tiles are for one person alone (RFC 9111, 5.2.2.7), and a pack goes to a crew", nil, remedy)
	}
	return nil
}

// record is the origin and the marks of an answer: fresh as long as it says,
// at least as long as the terms say, and never longer than they allow.
func (r *run) record(id tiles.ID, rep reply) store.Held {
	own := freshness(rep)
	rec := store.Held{
		Fixed:     rep.says.noTransform(),
		Immutable: immutable(rep),
		Tile: tiles.Tile{ID: id, Origin: tiles.Origin{
			Source: r.src.Name, Fetched: rep.received.UTC(),
			ETag:         r.validator(rep, "ETag"),
			LastModified: r.validator(rep, "Last-Modified"),
		}},
	}
	if extra, may := rep.says.staleIfError(rep.header); may {
		rec.UsableUntil = rec.Fetched.Add(own + extra)
	}
	return r.within(rec, own)
}

// within sets how long a record is fresh, between the limits of the terms.
func (r *run) within(rec store.Held, own time.Duration) store.Held {
	rec.FreshUntil = rec.Fetched.Add(max(own, time.Duration(r.src.Terms.KeepAtLeast)))
	if most := time.Duration(r.src.Terms.KeepAtMost); most > 0 {
		last := rec.Fetched.Add(most)
		rec.FreshUntil, rec.UsableUntil = earlier(rec.FreshUntil, last), earlier(rec.UsableUntil, last)
	}
	return rec
}

// confirmed updates what is held by the fields of a 304 (RFC 9111, 3.2 and
// 4.3.4). A source repeats Cache-Control and Expires where it would send them
// with a 200 (RFC 9110, 15.4.5); where it does not, the marks that are held
// stay, and a guess is no longer than the life that was held before.
func (r *run) confirmed(w Want, rep reply) store.Held {
	h := rep.header.Clone()
	if h.Get("Last-Modified") == "" && w.Held.LastModified != "" {
		h.Set("Last-Modified", w.Held.LastModified)
	}
	rep.header, rep.status = h, http.StatusOK
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
	life := w.Held.FreshUntil.Sub(w.Held.Fetched)
	own := min(freshness(rep), max(life, 0))
	if extra := w.Held.UsableUntil.Sub(w.Held.FreshUntil); !w.Held.UsableUntil.IsZero() && extra > 0 {
		rec.UsableUntil = rec.Fetched.Add(own + extra)
	}
	return r.within(rec, own)
}

// absent is a hole: the source says it has no such tile. An image that is held
// stays, unless the source says that it is gone for good.
func (r *run) absent(w Want, rep reply) outcome {
	hole := r.record(w.ID, rep)
	hole.Hole, hole.ETag, hole.LastModified, hole.Fixed, hole.Immutable = true, "", "", false, false
	if rep.says.noStore(rep.status) || rep.says.private() {
		// Nothing of such an answer may be kept. That there is no tile is our own
		// note, and it does not hold beyond this run.
		hole.FreshUntil, hole.UsableUntil = hole.Fetched, time.Time{}
	}
	return r.instead(w, hole, rep.status)
}

// outsideOf is a hole that was not asked for: the source's own description
// says that it has no such tile.
func (r *run) outsideOf(w Want) outcome {
	hole := store.Held{Hole: true, Tile: tiles.Tile{ID: w.ID, Origin: tiles.Origin{Source: r.src.Name, Fetched: r.o.Now().UTC()}}}
	return r.instead(w, r.within(hole, 0), http.StatusNotFound)
}

// instead is the hole, or the image that is held in its place: stale, and
// asked for again when the hole would be.
func (r *run) instead(w Want, hole store.Held, status int) outcome {
	if !w.hasImage() || status == http.StatusGone {
		return outcome{Held: hole}
	}
	rec := w.Held
	rec.ID, rec.Data, rec.FreshUntil = w.ID, nil, hole.FreshUntil
	return outcome{Held: rec, withdrawn: true}
}

// validator keeps what can be sent back: nothing overlong, nothing that
// repeats the key, no time that is none, nothing that private reserves.
func (r *run) validator(rep reply, name string) string {
	s := rep.header.Get(name)
	if len(s) > 1000 || r.src.Redact(s) != s || slices.Contains(rep.says.privateFields(), strings.ToLower(name)) {
		return ""
	}
	if name == "Last-Modified" {
		if _, err := httpDate(s, time.Now()); err != nil {
			return ""
		}
	}
	return s
}
