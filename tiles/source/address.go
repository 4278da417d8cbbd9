package source

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"

	"groundsheet/tiles"
)

// Expand replaces every {name} of a template by what value gives for it.
func Expand(template string, value func(name string) (string, error)) (string, error) {
	var out strings.Builder
	for {
		before, rest, found := strings.Cut(template, "{")
		out.WriteString(before)
		if !found {
			return out.String(), nil
		}
		name, after, closed := strings.Cut(rest, "}")
		if !closed {
			return "", errors.New(`a "{" is not closed`)
		}
		v, err := value(name)
		if err != nil {
			return "", err
		}
		out.WriteString(v)
		template = after
	}
}

// Address is the URL of one tile, with the key in it: never show it without
// [Source.Redact]. {s} goes by column and row, so a tile always has the same
// address. An error names what is missing: the tile at the source, the address
// of a practice source, a service's document that was not read yet, or the
// environment variable with the key.
func (s Source) Address(t tiles.ID) (string, error) { return s.address(t, 1) }

// BlockAddress is the URL that yields the picture of a whole block, n·tile size
// pixels a side; first is its north-western tile. See [Source.Block]; errors
// are those of [Source.Address].
func (s Source) BlockAddress(first tiles.ID) (string, error) {
	own, n := s.Block(first)
	if own != first {
		return "", fmt.Errorf("source %q: tile %s does not begin a block", s.Name, first)
	}
	return s.address(first, n)
}

func (s Source) address(t tiles.ID, n int) (string, error) {
	template := s.template(t)
	if template == "" && !s.Asked() && !s.Local() {
		template = s.URL
	}
	switch {
	case template == "" && s.Kind == KindPractice:
		return "", fmt.Errorf("source %q has no address: its practice server is not running", s.Name)
	case template == "":
		return "", fmt.Errorf("source %q has no address yet: its service was not asked or its file not opened", s.Name)
	case !t.Valid():
		return "", fmt.Errorf("source %q: there is no tile %s", s.Name, t)
	case int(t.Z) < s.Zooms.Min || int(t.Z) > s.Zooms.Max:
		return "", fmt.Errorf("source %q has zooms %d to %d, tile %s is outside them", s.Name, s.Zooms.Min, s.Zooms.Max, t)
	}
	path, query, hasQuery := strings.Cut(template, "?")
	text, err := Expand(path, func(name string) (string, error) { return s.value(name, t, n, url.PathEscape) })
	if err != nil || !hasQuery {
		return text, err
	}
	query, err = Expand(query, func(name string) (string, error) { return s.value(name, t, n, url.QueryEscape) })
	return text + "?" + query, err
}

// Path is the file of a tile in a folder source.
func (s Source) Path(t tiles.ID) (string, error) {
	return Expand(s.File, func(name string) (string, error) {
		return s.value(name, t, 1, func(text string) string { return text })
	})
}

// value is what one placeholder stands for; escape is for texts that are not
// our own. The last four are only in the templates of services.
func (s Source) value(name string, t tiles.ID, n int, escape func(string) string) (string, error) {
	row, flipped := t.Y, t.TMSRow()
	if s.Kind == KindTMS {
		row, flipped = flipped, row
	}
	switch name {
	case "z":
		return number(t.Z), nil
	case "x":
		return number(t.X), nil
	case "y":
		return number(row), nil
	case "-y":
		return number(flipped), nil
	case "q":
		return t.Quadkey(), nil
	case "s":
		if len(s.Subdomains) == 0 {
			return "", fmt.Errorf("source %q: url has {s} but subdomains is empty", s.Name)
		}
		return s.Subdomains[(uint64(t.X)+uint64(t.Y))%uint64(len(s.Subdomains))], nil
	case "key":
		key, err := s.key()
		return escape(key), err
	case "matrix":
		if name, ok := s.Matrix[int(t.Z)]; ok || s.Matrix != nil {
			return escape(name), nil
		}
		return number(t.Z), nil
	case "bbox":
		return box(s, t, n), nil
	case "pixels":
		return strconv.Itoa(n * max(s.TileSize, 1)), nil
	}
	return "", fmt.Errorf("source %q: {%s} is not a known placeholder", s.Name, name)
}

// box is the ground of a block, round the outside of its pixels, in the
// source's reference system and in the order of its axes: WMS 1.3.0 takes
// EPSG:4326 with latitude first; 1.1.1, CRS:84 and Web Mercator have x first
// (OGC 06-042, 6.7.4 and 7.3.3.6; OGC 01-068r3).
func box(s Source, t tiles.ID, n int) string {
	end := tiles.ID{Z: t.Z, X: t.X + uint32(n) - 1, Y: t.Y + uint32(n) - 1}
	first, last := t.Edges(), end.Edges()
	if degrees(s.CRS) {
		first, last = t.Bounds(), end.Bounds()
	}
	corners := []float64{first.West, last.South, last.East, first.North}
	if s.CRS == "EPSG:4326" && s.Version != "1.1.1" {
		corners = []float64{last.South, first.West, first.North, last.East}
	}
	var texts []string
	for _, c := range corners {
		texts = append(texts, strconv.FormatFloat(c, 'f', -1, 64))
	}
	return strings.Join(texts, ",")
}

func number(n uint32) string { return strconv.FormatUint(uint64(n), 10) }

// Block is the square of n×n tiles that one request brings a tile with: its
// north-western tile and n. Blocks lie side by side and never leave the world,
// so n is less than the source's metatile on the shallowest zooms; it is 1 for
// sources that send single tiles.
func (s Source) Block(t tiles.ID) (first tiles.ID, n int) {
	n = min(max(s.Metatile, 1), 1<<min(t.Z, 10))
	side := uint32(n)
	return tiles.ID{Z: t.Z, X: t.X / side * side, Y: t.Y / side * side}, n
}

// Bow is how far, in pixels, a picture drawn in degrees is off a Web Mercator
// block of metatile × metatile tiles at most, inside zoom z.
//
// Both have straight meridians and parallels, and columns agree. Rows do not:
// Web Mercator's y grows with latitude by y' = sec φ, y” = sec φ·tan φ, and a
// straight line over the interval Δφ leaves the curve by at most Δφ²·y”/8. As a
// part of the interval's own Δy = y'·Δφ that is Δφ·tan φ/8; with Δφ = Δy·cos φ
// and Δy = 2π·metatile/2^z it is 2π·metatile·sin φ/(8·2^z). Times the rows of
// the picture, metatile·tileSize, with sin φ at most 1:
//
//	π·metatile²·tileSize / (4·2^z) pixels
//
// 0.05 at zoom 12 for single tiles of 256 pixels.
func Bow(zoom, metatile, tileSize int) float64 {
	n := float64(max(metatile, 1))
	return math.Pi * n * n * float64(tileSize) / (4 * math.Exp2(float64(zoom)))
}

// mostBow is the most that a picture in degrees may be off, in pixels. With
// zoom 12 as the shallowest, also 512-pixel tiles stay below it.
const mostBow = 0.1

// degrees reports whether pictures in a reference system are in degrees.
func degrees(crs string) bool { return crs == "EPSG:4326" || crs == "CRS:84" }

// WebMercator is the reference system of all tiles.
const WebMercator = "EPSG:3857"
