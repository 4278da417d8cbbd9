package geopackage

import (
	"encoding/binary"
	"fmt"
	"iter"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

var order = binary.LittleEndian

// edge of Web Mercator in meters (EPSG:3857), from the middle of the world.
const edge = 20037508.342789244

// Pyramid is a base map: the tiles of Web Mercator that are there.
type Pyramid struct {
	Name, Title, About string
	Box                orb.Bound // of the ground that they show, in meters of EPSG:3857
	Zooms              tiles.Zooms
	TileSize           int  // pixels
	WebP               bool // some of the tiles are WebP, which is an extension
}

// AddTiles adds a base map on EPSG:3857; rows of tiles count from the north, as here.
func (w *Writer) AddTiles(p Pyramid, all iter.Seq2[tiles.Tile, error]) error {
	t := Table{Name: p.Name, Title: p.Title, About: p.About}
	if err := t.check(); err != nil {
		return err
	}
	if err := w.content(t, "tiles", p.Box, 3857); err != nil {
		return err
	}
	if err := w.do(`INSERT INTO gpkg_tile_matrix_set VALUES(?,3857,?,?,?,?)`, p.Name, -edge, -edge, edge, edge); err != nil {
		return err
	}
	for z := p.Zooms.Min; z <= p.Zooms.Max; z++ {
		side := 2 * edge / float64(uint64(1)<<z) / float64(p.TileSize)
		if err := w.do(`INSERT INTO gpkg_tile_matrix VALUES(?,?,?,?,?,?,?,?)`, p.Name, z, 1<<z, 1<<z, p.TileSize, p.TileSize, side, side); err != nil {
			return err
		}
	}
	if p.WebP {
		if err := w.do(`INSERT INTO gpkg_extensions VALUES(?,'tile_data','gpkg_webp','http://www.geopackage.org/spec/#extension_tiles_webp','read-write')`, p.Name); err != nil {
			return err
		}
	}
	if err := w.do(fmt.Sprintf(`CREATE TABLE %s (id INTEGER PRIMARY KEY AUTOINCREMENT, zoom_level INTEGER NOT NULL, tile_column INTEGER NOT NULL, tile_row INTEGER NOT NULL, tile_data BLOB NOT NULL, UNIQUE (zoom_level, tile_column, tile_row))`, p.Name)); err != nil {
		return err
	}
	stmt, err := w.tx.PrepareContext(w.ctx, fmt.Sprintf(`INSERT INTO %s (zoom_level, tile_column, tile_row, tile_data) VALUES(?,?,?,?)`, p.Name))
	if err != nil {
		return err
	}
	defer stmt.Close()
	for tile, err := range all {
		if err != nil {
			return err
		}
		if _, err := stmt.ExecContext(w.ctx, tile.Z, tile.X, tile.Y, tile.Data); err != nil {
			return err
		}
	}
	return nil
}
