package desk

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"groundsheet/pack/office"
	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// try asks for one tile of an offer, as groundsheet source try does: nothing is kept.
func (s *newSource) try(r *http.Request) (any, error) {
	var in struct {
		Look  string    `json:"look"`
		Offer int       `json:"offer"`
		At    []float64 `json:"at"` // longitude, latitude; null = the middle of what it covers
		Zoom  *int      `json:"zoom"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	if err := s.wait(r.Context()); err != nil {
		return nil, err
	}
	defer s.pace.Unlock()
	_, o, err := s.offer(r.Context(), in.Look, in.Offer)
	if err != nil {
		return nil, err
	}
	src := o.Source
	var lon, lat float64
	switch {
	case len(in.At) == 2 && (src.Bounds == nil || holds(*src.Bounds, in.At)):
		lon, lat = in.At[0], in.At[1]
	case src.Bounds != nil:
		lon, lat = src.Bounds.Center()
	default:
		return nil, &fault.Fault{Detail: words.Say("look.no_bounds"), Remedy: words.Say("look.no_bounds_do")}
	}
	zoom := min(max(src.Zooms.Min, 16), src.Zooms.Max)
	if in.Zoom != nil {
		zoom = min(max(src.Zooms.Min, *in.Zoom), src.Zooms.Max)
	}
	ready, client, done, err := discover.Open(r.Context(), src, discover.Options{})
	if err != nil {
		return nil, err
	}
	defer done() //nolint:errcheck // its only user is done
	p, err := discover.ProbeTile(r.Context(), ready, tiles.At(lon, lat, zoom), client, discover.Options{})
	if err != nil {
		return nil, err
	}
	out := map[string]any{"status": p.Status, "told": office.TellProbe(ready, p), "tile": p.Tile.String(), "zoom": zoom, "picture": nil,
		"ground_resolution_m": tiles.GroundResolution(lat, zoom, src.TileSize)}
	if p.Flaw == nil && p.Status == http.StatusOK {
		out["picture"], out["media"] = p.Data, p.Picture.Kind.MediaType() // JSON has bytes in base64
		out["size"] = fmt.Sprintf("%d×%d, %s", p.Picture.Width, p.Picture.Height, measure.Size(len(p.Data)))
	}
	return out, nil
}

// wait takes the turn to try a tile; the caller unlocks the pace.
func (s *newSource) wait(ctx context.Context) error {
	s.pace.Lock()
	select {
	case <-time.After(time.Until(s.next)):
		s.next = time.Now().Add(tryEvery)
		return nil
	case <-ctx.Done():
		s.pace.Unlock()
		return ctx.Err()
	}
}

func holds(b tiles.Box, at []float64) bool {
	return at[0] >= b.West && at[0] <= b.East && at[1] >= b.South && at[1] <= b.North
}
