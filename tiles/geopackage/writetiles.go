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

// webMercator is the text of EPSG:3857 in WKT 1.
const webMercator = `PROJCS["WGS 84 / Pseudo-Mercator",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]],PROJECTION["Mercator_1SP"],PARAMETER["central_meridian",0],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST],AXIS["Northing",NORTH],EXTENSION["PROJ4","+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +wktext +no_defs"],AUTHORITY["EPSG","3857"]]`

// Pyramid is a base map: the tiles of Web Mercator that are there.
type Pyramid struct {
	Name, Title, About string
	Box                orb.Bound // of the ground that they show, in meters of EPSG:3857
	Zooms              tiles.Zooms
	TileSize           int  // pixels
	WebP               bool // some of the tiles are WebP, which is an extension
}

// AddTiles adds a base map; rows of tiles count from the north, as here.
func (w *Writer) AddTiles(p Pyramid, all iter.Seq2[tiles.Tile, error]) error {
	t := Table{Name: p.Name, Title: p.Title, About: p.About}
	if err := t.check(); err != nil {
		return err
	}
	if err := w.System(3857, "WGS 84 / Pseudo-Mercator", webMercator); err != nil {
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
