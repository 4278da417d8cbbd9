package local

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/answer"
	"groundsheet/tiles/sqlite"
)

// database is an opened MBTiles file.
type database struct {
	path     string
	modified time.Time
	db       *sql.DB
	get      *sql.Stmt
	rows     map[string]string // of the metadata table
}

// openTime is how long the description of a file may take to read: a view in a
// hostile file may never end.
const openTime = 10 * time.Second

const getMBTiles = "name an MBTiles file of images: file in sources.toml"

// OpenMBTiles opens an MBTiles file of images, or of vector tiles. An [Unusable] fault
// says why it cannot be used.
func OpenMBTiles(ctx context.Context, path string, vector bool) (*Files, error) {
	d, err := openDatabase(ctx, path)
	if err != nil {
		return nil, err
	}
	if err := d.checkFormat(vector); err != nil {
		return nil, errors.Join(err, d.close())
	}
	return &Files{Template: answer.Template("local"), from: d.tile, close: d.close}, nil
}

// openDatabase opens the file read-only, with no functions or triggers from its
// schema (SQLite, "Defense Against The Dark Arts", 1.2), and reads its
// metadata.
func openDatabase(ctx context.Context, path string) (*database, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, unusable(path, withoutPath(err), getMBTiles)
	case !info.Mode().IsRegular():
		return nil, unusable(path, "not a file", getMBTiles)
	}
	for _, end := range []string{"-wal", "-journal"} {
		if beside, err := os.Stat(path + end); err == nil && beside.Size() > 0 {
			return nil, unusable(path, "another program has not finished writing it ("+beside.Name()+" lies beside it)",
				"close that program first")
		}
	}
	d := &database{path: path, modified: info.ModTime()}
	d.db = sqlite.OpenUntrusted(path, sqlite.Untrusted{Longest: longest})
	short, cancel := context.WithTimeout(ctx, openTime)
	defer cancel()
	if err := d.load(short); err != nil {
		_ = d.db.Close() // nothing was written
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, unusable(path, fmt.Sprintf("not an MBTiles file (%v)", err), getMBTiles)
	}
	return d, nil
}

func (d *database) load(ctx context.Context) (err error) {
	if err := sqlite.CheckSchema(ctx, d.db, "metadata", "tiles"); err != nil {
		return err
	}
	if d.rows, err = sqlite.Pairs(ctx, d.db, "metadata"); err != nil {
		return err
	}
	d.get, err = d.db.PrepareContext(ctx,
		`SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=? LIMIT 1`)
	return err
}

// checkFormat refuses what is not of the stated kind. If the file says nothing, the
// tiles will tell.
func (d *database) checkFormat(vector bool) error {
	format := strings.ToLower(strings.TrimSpace(d.rows["format"]))
	switch {
	case format == "", slices.Contains([]string{"png", "jpg", "jpeg", "webp", "image/png", "image/jpeg", "image/webp"}, format) && !vector, d.vector() && vector:
		return nil
	case d.vector():
		return unusable(d.path, fmt.Sprintf("it holds vector tiles (format %q), which are lines and words to be drawn, not pictures", format),
			`state format = "pbf", and with [[NAME.draw]] tables as what its layers are drawn`)
	case vector:
		return unusable(d.path, fmt.Sprintf("its tiles are of format %q, no vector tiles", format), "take format and the draw tables out")
	}
	return unusable(d.path, fmt.Sprintf("its tiles are of format %q", format), "a base map needs pictures (png, jpg, webp) or vector tiles (pbf)")
}

// vector reports whether the file says that it holds vector tiles.
func (d *database) vector() bool {
	format := strings.ToLower(strings.TrimSpace(d.rows["format"]))
	return slices.Contains([]string{"pbf", "mvt", "application/vnd.mapbox-vector-tile", "application/x-protobuf"}, format)
}

func (d *database) close() error { return errors.Join(d.get.Close(), d.db.Close()) }

// tile flips the row: MBTiles counts from the south (MBTiles 1.3, "Content").
func (d *database) tile(ctx context.Context, t tiles.ID) ([]byte, time.Time, error) {
	var data []byte
	err := d.get.QueryRowContext(ctx, t.Z, t.X, t.TMSRow()).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, time.Time{}, nil
	}
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: tile %v: %w", d.path, t, err)
	}
	return data, d.modified, nil
}
