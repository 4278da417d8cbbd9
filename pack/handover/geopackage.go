package handover

import (
	"context"
	"errors"
	"iter"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/crs"
	"groundsheet/tiles/geopackage"
	"groundsheet/tiles/words"
)

// set is a list of finds that goes into files and tables of its own.
type set struct {
	name  string // "found" or "records"
	title string
	finds []Find
}

// writeGeoPackage writes the finds, and the base map of a pack where one is given, into
// one file.
func writeGeoPackage(ctx context.Context, path string, sets []set, g Ground, base *pack.Pack, changed time.Time) (err error) {
	w, err := geopackage.Create(ctx, path, changed)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close(err == nil)) }()
	if g.code() != 4326 {
		if err := w.System(g.code(), g.system.Name, g.wkt()); err != nil {
			return err
		}
	}
	for _, s := range sets {
		if err := addTables(w, s, g); err != nil {
			return err
		}
	}
	if base != nil {
		return addBase(ctx, w, base)
	}
	return nil
}

func addTables(w *geopackage.Writer, s set, g Ground) error {
	fields := Fields()
	columns := make([]geopackage.Column, len(fields))
	for i, f := range fields {
		columns[i] = geopackage.Column{Name: f.Name, Number: f.Number, About: f.About}
		if f.Unit != "" {
			columns[i].About += " (" + f.Unit + ")"
		}
	}
	for _, kind := range []struct {
		shape        shape
		name, shapes string
	}{{points, "points", "POINT"}, {lines, "lines", "MULTILINESTRING"}, {areas, "areas", "MULTIPOLYGON"}, {unplaced, "no_place", ""}} {
		t := geopackage.Table{Name: s.name + "_" + kind.name, Title: s.title + ": " + kind.name, About: g.Text(), Shapes: kind.shapes,
			System: g.code(), Columns: columns}
		var rows []geopackage.Row
		for _, f := range of(kind.shape, s.finds) {
			placed, err := g.place(f)
			if err != nil {
				return err
			}
			rows = append(rows, geopackage.Row{Geometry: placed, Values: f.values(fields)})
		}
		if len(rows) == 0 {
			continue
		}
		if err := w.Add(t, rows); err != nil {
			return err
		}
	}
	return nil
}

// addBase copies the base map's tiles.
func addBase(ctx context.Context, w *geopackage.Writer, p *pack.Pack) error {
	about := p.Info.About
	size := about.TileSize
	if size == 0 {
		size = 256
	}
	mercator, err := crs.ByCode(3857)
	if err != nil {
		return err
	}
	b := p.Info.Bounds
	low, _ := mercator.FromDegrees(orb.Point{b.West, b.South})
	high, _ := mercator.FromDegrees(orb.Point{b.East, b.North})
	return w.AddTiles(geopackage.Pyramid{
		Name: "base_map", Title: words.Say("handover.base", "attribution", about.Source.Attribution),
		About: words.Say("handover.base_terms", "name", about.Source.Name, "reference", about.Source.Reference),
		Box:   orb.Bound{Min: low, Max: high}, Zooms: p.Info.Zooms, TileSize: size, WebP: p.Info.Format == "webp",
	}, packed(ctx, p))
}

// packed are the tiles of a pack, in tile order.
func packed(ctx context.Context, p *pack.Pack) iter.Seq2[tiles.Tile, error] {
	return func(yield func(tiles.Tile, error) bool) {
		covers, err := p.Wanted(ctx)
		if err != nil {
			yield(tiles.Tile{}, err)
			return
		}
		for _, c := range covers {
			for h, err := range p.In(ctx, c, true) {
				if err == nil && (h.Hole || h.Data == nil) {
					continue
				}
				if !yield(h.Tile, err) || err != nil {
					return
				}
			}
		}
	}
}
