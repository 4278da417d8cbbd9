package source

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

const entryKeys = "kind, url, key_env, subdomains, file, layer, style, format, matrix_set, version, crs, metatile, zooms, tile_size, " +
	"attribution, captured, bounds, ground_resolution, redirect_hosts, placeholders, terms"

// entry is one source as the file writes it. Pointers tell "not stated" from 0.
type entry struct {
	Kind        string      `toml:"kind"`
	URL         string      `toml:"url"`
	KeyEnv      string      `toml:"key_env"`
	Subdomains  []string    `toml:"subdomains"`
	File        string      `toml:"file"`
	Layer       string      `toml:"layer"`
	Style       string      `toml:"style"`
	Format      string      `toml:"format"`
	MatrixSet   string      `toml:"matrix_set"`
	Version     string      `toml:"version"`
	CRS         string      `toml:"crs"`
	Metatile    int         `toml:"metatile"`
	Zooms       []int       `toml:"zooms"`
	TileSize    *int        `toml:"tile_size"`
	Attribution string      `toml:"attribution"`
	Captured    any         `toml:"captured"` // people write text, a date or a year
	Bounds      []float64   `toml:"bounds"`
	Resolution  *length     `toml:"ground_resolution"`
	Redirects   []string    `toml:"redirect_hosts"`
	Placeholder []string    `toml:"placeholders"`
	Terms       *entryTerms `toml:"terms"`
}

// length keeps a bare number from being taken for metres.
type length struct{ measure.Distance }

// problem is one thing wrong with a key of an entry.
type problem struct{ key, detail string }

// problems collects; its methods keep the checks below to one line each.
type problems []problem

func (p *problems) add(key, format string, args ...any) {
	*p = append(*p, problem{key, fmt.Sprintf(format, args...)})
}

func (p *problems) unless(ok bool, key, format string, args ...any) {
	if !ok {
		p.add(key, format, args...)
	}
}

// source turns the entry into a Source and lists what is wrong with it.
func (e entry) source(name string) (Source, problems) {
	var wrong problems
	wrong.unless(goodName(name), "", nameRule)
	s := Source{
		Name: name, Kind: e.Kind, URL: e.URL, KeyEnv: e.KeyEnv, Subdomains: e.Subdomains,
		File: e.File, Layer: e.Layer, Style: e.Style, Format: e.Format, MatrixSet: e.MatrixSet, Version: e.Version, CRS: e.CRS,
		Metatile: e.Metatile, RedirectHosts: e.Redirects, Attribution: e.Attribution, TileSize: 256,
	}
	if !slices.Contains(Kinds(), e.Kind) {
		wrong.add("kind", "kind %q is not known to this version: use one of %s", e.Kind, strings.Join(Kinds(), ", "))
		return s, wrong
	}
	e.checkKeys(&wrong)
	wrong.unless(name != KindPractice || e.Kind == KindPractice, "kind",
		"the name practice is kept for invented imagery: give this source another name")
	if e.TileSize != nil {
		s.TileSize = *e.TileSize
		wrong.unless(s.TileSize == 256 || s.TileSize == 512, "tile_size", "%d is not possible: 256 or 512", s.TileSize)
	}
	s.Zooms = e.zooms(&wrong)
	s.Captured = captured(e.Captured, &wrong)
	s.Bounds = bounds(e.Bounds, &wrong)
	if e.Resolution != nil {
		s.GroundResolution = e.Resolution.Distance
		wrong.unless(s.GroundResolution >= 0.001 && s.GroundResolution <= 100_000, "ground_resolution", "%s a pixel is not possible", s.GroundResolution)
	}
	s.Terms = e.Terms.terms(e.Kind, &wrong)
	if e.Kind == KindPractice {
		s = s.asPractice()
	}
	s.checkPlace(&wrong)
	s.checkService(&wrong)
	s.Placeholders = placeholderHashes(e.Placeholder, &wrong)
	s.checkTexts(&wrong)
	return s, wrong
}

// asPractice fills what a practice source need not state.
func (s Source) asPractice() Source {
	p := practice()
	if s.Attribution == "" {
		s.Attribution = p.Attribution
	}
	if s.Captured == "" {
		s.Captured = p.Captured
	}
	return s
}

const nameRule = "a name is 1 to 60 letters, digits and dashes, no dash first (it becomes a file name)"

func goodName(name string) bool {
	return regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,59}$`).MatchString(name)
}

func (e entry) zooms(wrong *problems) tiles.Zooms {
	if len(e.Zooms) == 0 && e.Kind == KindPractice {
		return practice().Zooms
	}
	if len(e.Zooms) != 2 {
		wrong.add("zooms", "want the shallowest and the deepest zoom of the source, such as [8, 21]")
		return tiles.Zooms{}
	}
	z := tiles.Zooms{Min: e.Zooms[0], Max: e.Zooms[1]}
	if err := z.Check(); err != nil {
		wrong.add("zooms", "%v", err)
	}
	return z
}

// captured keeps the statement as text, whatever TOML made of it.
func captured(v any, wrong *problems) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return strings.TrimSpace(v)
	case toml.LocalDate:
		return v.String()
	case int64:
		if v >= 1800 && v <= 2999 {
			return fmt.Sprint(v)
		}
	}
	wrong.add("captured", `want a date as text, such as "2025-03"`)
	return ""
}

func bounds(b []float64, wrong *problems) *tiles.Box {
	if b == nil {
		return nil
	}
	if len(b) != 4 {
		wrong.add("bounds", "want [west, south, east, north] in degrees")
		return nil
	}
	box := tiles.Box{West: b[0], South: b[1], East: b[2], North: b[3]}
	ok := box.West >= -180 && box.West < box.East && box.East <= 180 &&
		box.South >= -90 && box.South < box.North && box.North <= 90
	wrong.unless(ok, "bounds", "%v is no box: want [west, south, east, north] in degrees, west below east, south below north", b)
	return &box
}

// checkTexts refuses control characters: the texts end in headers, file
// metadata and on screens.
func (s Source) checkTexts(wrong *problems) {
	texts := []struct{ key, text string }{{"attribution", s.Attribution}, {"captured", s.Captured}, {"url", s.URL},
		{"file", s.File}, {"layer", s.Layer}, {"style", s.Style}, {"format", s.Format}, {"matrix_set", s.MatrixSet}}
	if s.Terms != nil {
		texts = append(texts, []struct{ key, text string }{{"terms.reference", s.Terms.Reference},
			{"terms.permission", s.Terms.Permission}, {"terms.permission_by", s.Terms.PermissionBy},
			{"terms.permission_reference", s.Terms.PermissionReference}, {"terms.contact", s.Terms.Contact}}...)
	}
	for _, t := range texts {
		wrong.unless(strings.IndexFunc(t.text, unicode.IsControl) < 0, t.key, "must be one line without control characters")
		wrong.unless(len(t.text) <= 2000, t.key, "is longer than 2000 characters")
	}
}
