package fetch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// answer is a response with what is needed to judge it.
type answer struct {
	*http.Response
	want                Want
	requested, received time.Time // by Options.Now
	sent                time.Time // by the real clock
}

// status is code and usual words; the words the source sends are not repeated.
func (a answer) status() string {
	return strings.TrimSpace(fmt.Sprint(a.StatusCode, " ", http.StatusText(a.StatusCode)))
}

// outcome is what is to be written for a tile.
type outcome struct {
	store.Record
	confirmed bool // 304: only times and validators
}

// judge turns an answer into an outcome, or says what is wrong with it.
func (r *run) judge(ctx context.Context, a answer) (outcome, *trouble, error) {
	switch a.StatusCode {
	case 200:
		return r.image(ctx, a)
	case 304:
		return r.unchanged(a)
	case 204, 404, 410:
		return r.absent(a), nil, nil
	case 401, 402, 403, 407, 451:
		return outcome{}, nil, r.stopped(StopRejected, "the source does not let us in: it answers "+a.status(), nil,
			"check the key and the terms of the source, and whether the address in sources.toml is right")
	case 511:
		return outcome{}, nil, r.stopped(StopPortal, "a captive portal answers instead of the source ("+a.status()+")", nil,
			"sign in to the network in a browser, then run again")
	case 408, 425, 429, 500, 502, 503, 504:
		bad, err := r.later(a)
		return outcome{}, bad, err
	}
	return outcome{}, &trouble{why: "an unexpected answer: " + a.status(), final: true}, nil
}

// later is an answer that may be another one soon.
func (r *run) later(a answer) (*trouble, error) {
	if a.StatusCode == http.StatusTooManyRequests {
		if rate, slower := r.pace.slow(a.sent); slower {
			r.o.Log.Warn("the source finds us too fast, the rate is halved", "per_second", rate)
		}
	}
	told, err := r.heed(a)
	if err != nil {
		return nil, err
	}
	return &trouble{why: "the source answers " + a.status(), told: told}, nil
}

// image takes a tile only when it is whole.
func (r *run) image(ctx context.Context, a answer) (outcome, *trouble, error) {
	if err := r.mayKeep(a); err != nil {
		return outcome{}, nil, err
	}
	data, bad, err := r.body(ctx, a)
	if bad != nil || err != nil {
		return outcome{}, bad, err
	}
	picture, err := raster.Prove(data, r.src.TileSize)
	var flaw *raster.Flaw
	if errors.As(err, &flaw) && flaw.Why == raster.WrongSize {
		return outcome{}, &trouble{why: err.Error() + ": set tile_size in sources.toml to what the source sends"}, nil
	}
	if err != nil {
		return outcome{}, &trouble{why: err.Error()}, nil
	}
	rec := r.record(a)
	rec.Data, rec.Media = data, string(picture.Kind)
	return outcome{Record: rec}, nil, nil
}

// mayKeep ends the run when the source forbids keeping what it sends and no
// permission of its own was given.
func (r *run) mayKeep(a answer) error {
	if !noStore(a.Header) || r.src.Terms.Offline == source.OfflinePermission {
		return nil
	}
	return r.stopped(StopNoStore, "the source sends Cache-Control: no-store, which forbids keeping its tiles (RFC 9111, 5.2.2.5)", nil,
		`ask the provider; with their permission set offline = "permission" in the terms and say who gave it`)
}

// body reads the answer up to the limit and checks its length.
func (r *run) body(ctx context.Context, a answer) ([]byte, *trouble, error) {
	tooLong := &trouble{why: fmt.Sprintf("the answer is longer than %d bytes", r.o.MaxBytes)}
	if a.ContentLength > r.o.MaxBytes {
		return nil, tooLong, nil
	}
	var buf bytes.Buffer
	buf.Grow(int(max(a.ContentLength, 0)) + bytes.MinRead)
	n, err := buf.ReadFrom(io.LimitReader(a.Body, r.o.MaxBytes+1))
	switch {
	case n > r.o.MaxBytes:
		return nil, tooLong, nil
	case errors.Is(err, io.ErrUnexpectedEOF) || err == nil && a.ContentLength >= 0 && n != a.ContentLength:
		return nil, &trouble{why: fmt.Sprintf("the answer was cut short: %d of %d bytes", n, a.ContentLength)}, nil
	case err != nil:
		bad, err := r.broken(ctx, err)
		return nil, bad, err
	}
	return buf.Bytes(), nil, nil
}

// unchanged takes a 304 only as the answer to the validators we sent: one that
// names another entity confirms nothing (RFC 9111, 4.3.4).
func (r *run) unchanged(a answer) (outcome, *trouble, error) {
	etag := a.Header.Get("ETag")
	switch {
	case a.want.ETag == "" && a.want.LastModified == "":
		return outcome{}, &trouble{why: "304 although nothing is held", unasked: true}, nil
	case etag != "" && a.want.ETag != "" && opaque(etag) != opaque(a.want.ETag):
		return outcome{}, &trouble{why: "304 for another entity tag than the one held", unasked: true}, nil
	}
	if err := r.mayKeep(a); err != nil {
		return outcome{}, nil, err
	}
	rec := r.record(a)
	if rec.ETag == "" {
		rec.ETag = a.want.ETag
	}
	if rec.LastModified == "" {
		rec.LastModified = a.want.LastModified
	}
	return outcome{Record: rec, confirmed: true}, nil, nil
}

// opaque is the tag for the weak comparison (RFC 9110, 8.8.3.2).
func opaque(etag string) string { return strings.TrimPrefix(etag, "W/") }

// absent is a hole: the source says it has no such tile.
func (r *run) absent(a answer) outcome {
	rec := r.record(a)
	rec.Hole, rec.ETag, rec.LastModified = true, "", ""
	return outcome{Record: rec}
}

// record is the origin of an answer: fresh as long as it says, and at least
// as long as the terms say.
func (r *run) record(a answer) store.Record {
	fetched := a.received.UTC()
	fresh := max(Freshness(a.Header, a.StatusCode, a.requested, a.received), time.Duration(r.src.Terms.KeepAtLeast))
	return store.Record{Fixed: noTransform(a.Header), Tile: tiles.Tile{ID: a.want.ID, Origin: tiles.Origin{
		Source:       r.src.Name,
		Fetched:      fetched,
		FreshUntil:   fetched.Add(fresh),
		ETag:         r.validator(a.Header.Get("ETag")),
		LastModified: r.validator(a.Header.Get("Last-Modified")),
	}}}
}

// validator keeps what can be sent back: nothing overlong, nothing that
// repeats the key.
func (r *run) validator(s string) string {
	if len(s) > 1000 || r.src.Redact(s) != s {
		return ""
	}
	return s
}
