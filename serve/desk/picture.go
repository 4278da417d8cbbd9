package desk

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/office"
	"groundsheet/pack/vectorbase"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// picture shows the imagery of sources, as the office store holds it or fetches it.
type picture struct {
	d     *desk
	looks *office.Looks
}

func newPicture(d *desk) *picture { return &picture{d, office.NewLooks(d.office)} }

func (s *picture) routes(d *desk) {
	d.get("/api/sources", s.list)
	d.raw("/api/picture/{source}/{z}/{x}/{y}", s.tile)
	d.atEnd(s.looks.Close)
}

// sourceRow is a source to choose from.
type sourceRow struct {
	Name             string      `json:"name"`
	Kind             string      `json:"kind"`
	Zooms            []int       `json:"zooms"`
	TileSize         int         `json:"tile_size"`
	Attribution      string      `json:"attribution"` // "" = not stated
	Captured         string      `json:"captured"`    // "" = unknown
	GroundResolution float64     `json:"ground_resolution_m"`
	Bounds           *[4]float64 `json:"bounds"` // null = not stated
	Stamp            string      `json:"stamp"`  // another one is another picture
	Terms            string      `json:"terms"`  // in words
	Refused          *problem    `json:"refused"`
	Opens            *time.Time  `json:"opens"` // when its hours allow asking again; null when they do now
}

// sourcesOf are the sources that count for a job; "" = for none yet.
func (s *picture) sourcesOf(jobID string) (source.Config, string, error) {
	dir := ""
	if jobID != "" {
		var err error
		if dir, err = s.d.job(jobID); err != nil {
			return source.Config{}, "", err
		}
	}
	c, err := s.d.office.Sources(dir)
	return c, dir, err
}

func (s *picture) list(r *http.Request) (any, error) {
	c, dir, err := s.sourcesOf(r.FormValue("job"))
	if err != nil {
		return nil, err
	}
	path, err := s.d.office.SourcesPath(dir)
	if err != nil {
		return nil, err
	}
	rows := []sourceRow{}
	for _, name := range c.Names() {
		one, err := c.Find(name)
		if err != nil {
			return nil, err
		}
		rows = append(rows, s.row(one))
	}
	return map[string]any{"file": path, "sources": rows}, nil
}

func (s *picture) row(one source.Source) sourceRow {
	row := sourceRow{Name: one.Name, Kind: one.Kind, Zooms: []int{one.Zooms.Min, one.Zooms.Max}, TileSize: one.TileSize,
		Attribution: one.Attribution, Captured: one.Captured, GroundResolution: one.GroundResolution.Meters(),
		Stamp: one.Fingerprint(), Terms: one.TermsWords(), Refused: problemOf(one.Refusal())}
	if b := one.Bounds; b != nil {
		row.Bounds = &[4]float64{b.West, b.South, b.East, b.North}
	}
	if now := s.d.now(); row.Refused == nil {
		if opens := one.Terms.NextOpening(now); opens.After(now) {
			row.Opens = &opens
		}
	}
	return row
}

// What is said of a tile beside it.
const (
	fetchedHeader = "Groundsheet-Fetched" // when it was fetched or confirmed
	stateHeader   = "Groundsheet-Tile"    // stale or fresh
	oddHeader     = "Groundsheet-Odd"     // why it is most likely no picture of this ground, escaped as in a URL
)

// tile answers with a tile, or with nothing where the source has none. What cannot be
// had is an error that says why: no terms, outside the hours, the quota used up …
func (s *picture) tile(w http.ResponseWriter, r *http.Request) error {
	c, _, err := s.sourcesOf(r.FormValue("job"))
	if err != nil {
		return err
	}
	src, err := c.Find(r.PathValue("source"))
	if err != nil {
		return err
	}
	id, err := tileOf(r)
	if err != nil {
		return err
	}
	got, err := s.looks.Tile(r.Context(), src, id)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set(stateHeader, map[bool]string{true: "stale", false: "fresh"}[got.Stale])
	if !got.Fetched.IsZero() {
		h.Set(fetchedHeader, got.Fetched.UTC().Format(time.RFC3339))
	}
	if got.Hole {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	if got.Odd != "" {
		h.Set(oddHeader, url.PathEscape(got.Odd))
	}
	if src.Vector() {
		drawn, err := vectorbase.Picture(pack.DrawnOf(src), id, got.Data, src.TileSize)
		if err == nil {
			got.Data, err = raster.EncodeFlat(drawn)
		}
		if err != nil {
			return err
		}
		got.Media = string(raster.PNG)
	}
	h.Set("Content-Type", map[string]string{"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}[got.Media])
	h.Set("Content-Length", strconv.Itoa(len(got.Data)))
	_, _ = w.Write(got.Data) // a page that went away is nobody's to tell
	return nil
}

func tileOf(r *http.Request) (tiles.ID, error) {
	z, errZ := strconv.ParseUint(r.PathValue("z"), 10, 8)
	x, errX := strconv.ParseUint(r.PathValue("x"), 10, 32)
	y, errY := strconv.ParseUint(r.PathValue("y"), 10, 32)
	if err := cmp.Or(errZ, errX, errY); err != nil || z > tiles.MaxZoom || x>>z > 0 || y>>z > 0 {
		return tiles.ID{}, &fault.Fault{Kind: notFound, Detail: "there is no such tile", Err: err}
	}
	return tiles.ID{Z: uint32(z), X: uint32(x), Y: uint32(y)}, nil
}
