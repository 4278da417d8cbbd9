package local

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
)

// About is what an MBTiles file or a folder says of itself.
type About struct {
	Kind        string      // source.KindMBTiles or source.KindFolder
	File        string      // as for source.Source.File; in a folder with {y}
	Name        string      // "" when not stated
	Attribution string      // HTML by the standard: hostile text until it is escaped
	Zooms       tiles.Zooms // of the tiles that are there
	Bounds      *tiles.Box  // degrees; nil when not stated
	RowsFrom    string      // "north", "south", or "" if the folder does not say
	Sample      []byte      // one of the tiles
	Vector      bool        // it says that they are vector tiles,
	Layers      string      // whose layers it describes in JSON (MBTiles 1.3, "Vector tileset metadata"); "" = it does not
}

// Describe says what an MBTiles file or a folder of z/x/y files holds. An
// [Unusable] fault says why it is neither.
func Describe(ctx context.Context, path string) (About, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return About{}, unusable(path, withoutPath(err), "name an MBTiles file or a folder of tiles")
	case info.IsDir():
		return describeFolder(path)
	}
	d, err := openDatabase(ctx, path)
	if err != nil {
		return About{}, err
	}
	defer d.close() //nolint:errcheck // nothing was written
	if err := d.checkFormat(d.vector()); err != nil {
		return About{}, err
	}
	a, err := d.about(ctx)
	a.Vector, a.Layers = d.vector(), d.rows["json"]
	return a, err
}

func (d *database) about(ctx context.Context) (About, error) {
	short, cancel := context.WithTimeout(ctx, openTime)
	defer cancel()
	a := About{Kind: "mbtiles", File: d.path, Name: d.rows["name"], Attribution: d.rows["attribution"],
		Bounds: bounds(d.rows["bounds"]), RowsFrom: "south"}
	var low, high sql.NullInt64
	err := d.db.QueryRowContext(short, `SELECT min(zoom_level), max(zoom_level) FROM tiles`).Scan(&low, &high)
	a.Zooms = tiles.Zooms{Min: int(low.Int64), Max: int(high.Int64)}
	if err == nil && !low.Valid {
		return a, unusable(d.path, "it holds no tile", getMBTiles)
	}
	if wrong := a.Zooms.Check(); err == nil && wrong != nil {
		return a, unusable(d.path, wrong.Error(), getMBTiles)
	}
	if err == nil {
		err = d.db.QueryRowContext(short, `SELECT tile_data FROM tiles WHERE zoom_level=? LIMIT 1`,
			a.Zooms.Max).Scan(&a.Sample)
	}
	if err != nil {
		return a, unusable(d.path, fmt.Sprintf("its tiles cannot be read (%v)", err), "get the file again")
	}
	return a, nil
}

// bounds reads "left,bottom,right,top" in degrees; nil if it is not a box.
func bounds(text string) *tiles.Box {
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return nil
	}
	var v [4]float64
	for i, p := range parts {
		n, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil {
			return nil
		}
		v[i] = n
	}
	b := tiles.Box{West: v[0], South: v[1], East: v[2], North: v[3]}
	if !b.Valid() {
		return nil
	}
	return &b
}

// describeFolder finds the zooms by the names of the first folders, and one tile.
// Rows that are counted from the south look just like rows that are not: only
// a TMS document beside the tiles tells (OSGeo Tile Map Service 1.0.0:
// tilemapresource.xml).
func describeFolder(path string) (About, error) {
	a := About{Kind: "folder"}
	wrong := func(path, why string) (About, error) {
		return a, unusable(path, why, "name the folder that holds the zooms, or write the template yourself")
	}
	zooms, err := numbers(path)
	if err != nil {
		return wrong(path, withoutPath(err))
	}
	zooms = slices.DeleteFunc(zooms, func(z int) bool { return z > tiles.MaxZoom })
	tile := aTile(path, zooms)
	if tile == "" {
		return wrong(path, "it holds no tiles named z/x/y")
	}
	a.Zooms = tiles.Zooms{Min: zooms[0], Max: zooms[len(zooms)-1]}
	a.File = path + "/{z}/{x}/{y}" + filepath.Ext(tile)
	if _, err := os.Stat(filepath.Join(path, "tilemapresource.xml")); err == nil {
		a.RowsFrom = "south"
	}
	root, err := os.OpenRoot(path)
	if err != nil {
		return wrong(path, withoutPath(err))
	}
	defer root.Close()                  //nolint:errcheck // nothing was written
	name, _ := filepath.Rel(path, tile) // it is below
	if a.Sample, _, err = readTile(root, name); err != nil {
		return wrong(tile, withoutPath(err))
	}
	return a, nil
}

// numbers are the entries of a folder that are plain numbers, in order.
func numbers(path string) (out []int, err error) {
	entries, err := os.ReadDir(path)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if n, err := strconv.Atoi(e.Name()); err == nil && strconv.Itoa(n) == e.Name() && n >= 0 {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out, nil
}

// aTile is the path of any tile, "" if there is none.
func aTile(path string, zooms []int) string {
	for _, z := range slices.Backward(zooms) {
		columns, _ := numbers(filepath.Join(path, strconv.Itoa(z))) // a file named like a zoom has none
		for _, x := range columns {
			dir := filepath.Join(path, strconv.Itoa(z), strconv.Itoa(x))
			entries, _ := os.ReadDir(dir)
			for _, e := range entries {
				number, _, _ := strings.Cut(e.Name(), ".")
				if _, err := strconv.ParseUint(number, 10, 32); err == nil && e.Type().IsRegular() {
					return filepath.Join(dir, e.Name())
				}
			}
		}
	}
	return ""
}
