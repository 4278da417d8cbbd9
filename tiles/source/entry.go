package source

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

const entryKeys = "kind, url, key_env, subdomains, file, files, bands, scale, nodata, background, layer, style, format, matrix_set, version, crs, metatile, zooms, tile_size, " +
	"attribution, captured, bounds, ground_resolution, redirect_hosts, placeholders, draw, terms"

// entry is one source as the file writes it. Pointers tell "not stated" from 0.
type entry struct {
	Source
	Zooms        []int       `toml:"zooms"`
	TileSize     *int        `toml:"tile_size"`
	Captured     any         `toml:"captured"` // people write text, a date or a year
	Bounds       []float64   `toml:"bounds"`
	Resolution   *length     `toml:"ground_resolution"`
	Placeholders []string    `toml:"placeholders"`
	Draw         []entryDraw `toml:"draw"`
	Terms        *entryTerms `toml:"terms"`
}

// length keeps a bare number from being taken for meters.
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

// checker is a source being checked, with what is wrong with it.
type checker struct {
	Source
	problems
}

// source turns the entry into a Source and lists what is wrong with it.
func (e entry) source(name string) (Source, problems) {
	c := checker{Source: e.Source}
	c.Name, c.TileSize = name, 256
	c.unless(goodName(name), "", nameRule)
	if !slices.Contains(Kinds(), e.Kind) {
		c.add("kind", "kind %q is not known to this version: use one of %s", e.Kind, strings.Join(Kinds(), ", "))
		return c.Source, c.problems
	}
	e.checkKeys(&c.problems)
	c.unless(name != KindPractice || e.Kind == KindPractice, "kind",
		"the name practice is kept for invented imagery: give this source another name")
	if e.TileSize != nil {
		c.TileSize = *e.TileSize
		c.unless(c.TileSize == 256 || c.TileSize == 512, "tile_size", "%d is not possible: 256 or 512", c.TileSize)
	}
	c.Zooms = e.zooms(&c.problems)
	c.Captured = captured(e.Captured, &c.problems)
	c.Bounds = bounds(e.Bounds, &c.problems)
	if e.Resolution != nil {
		c.GroundResolution = e.Resolution.Distance
		c.unless(c.GroundResolution >= 0.001 && c.GroundResolution <= 100_000, "ground_resolution",
			"%s a pixel is not possible", c.GroundResolution)
	}
	c.Draw = e.draws(&c.problems)
	c.Terms = e.Terms.terms(e.Kind, &c.problems)
	if p := practice(); e.Kind == KindPractice {
		c.Attribution, c.Captured = cmp.Or(c.Attribution, p.Attribution), cmp.Or(c.Captured, p.Captured)
	}
	if c.Kind == KindRaster {
		c.checkRaster()
	}
	if c.Local() {
		c.checkFile()
	} else if c.URL != "" {
		c.checkURL()
	}
	c.checkService()
	c.checkVector()
	c.Placeholders = placeholderHashes(e.Placeholders, &c.problems)
	c.checkTexts()
	return c.Source, c.problems
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
	wrong.unless(box.Valid(), "bounds", "%v is no box: want [west, south, east, north] in degrees, west below east, south below north", b)
	return &box
}

// checkTexts refuses control characters: the texts end in headers, file
// metadata and on screens.
func (c *checker) checkTexts() {
	texts := map[string]string{"attribution": c.Attribution, "captured": c.Captured, "url": c.URL, "file": c.File,
		"layer": c.Layer, "style": c.Style, "format": c.Format, "matrix_set": c.MatrixSet}
	texts["files"] = strings.Join(c.Files, "")
	if t := c.Terms; t != nil {
		maps.Copy(texts, map[string]string{"terms.reference": t.Reference, "terms.permission": t.Permission,
			"terms.permission_by": t.PermissionBy, "terms.permission_reference": t.PermissionReference,
			"terms.contact": t.Contact})
	}
	for _, key := range slices.Sorted(maps.Keys(texts)) {
		c.unless(strings.IndexFunc(texts[key], unicode.IsControl) < 0, key, "must be one line without control characters")
		c.unless(len(texts[key]) <= 2000 || key == "files", key, "is longer than 2000 characters")
	}
}
