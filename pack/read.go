package pack

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/sqlite"
)

// Pack is an opened pack, or any other MBTiles file of raster tiles. It is
// read-only and safe for concurrent use. The file must not be changed while it
// is open; a newer pack may be renamed over it.
type Pack struct {
	Path string
	Info Info
	file os.FileInfo // as it was when it was opened
	db   *sql.DB
	get  *sqlite.Reader

	limits func() []tiles.Limit
}

// ErrExchanged says that another file has been put in the place of an opened
// pack. What was read already is whole; what has to be opened again is not there.
var ErrExchanged = errors.New("another file is in its place now")

// IsFile reports whether a file is the opened one, unchanged since.
func (p *Pack) IsFile(now os.FileInfo) bool {
	return os.SameFile(p.file, now) && p.file.Size() == now.Size() && p.file.ModTime().Equal(now.ModTime())
}

// Replaced reports whether a file at the pack's path is another one. When it is
// neither that nor [Pack.IsFile], the opened file itself was changed.
func (p *Pack) Replaced(now os.FileInfo) bool { return !os.SameFile(p.file, now) }

// Version is a text that changes whenever the file does.
func (p *Pack) Version() string {
	return fmt.Sprintf("%x-%x", p.file.ModTime().UnixNano(), p.file.Size())
}

// confirm runs after each opening of the file by its name, so that no two files
// are ever mixed.
func (p *Pack) confirm() error {
	now, err := os.Stat(p.Path)
	if err != nil || !p.IsFile(now) {
		return ErrExchanged
	}
	return nil
}

// Info is what the file says of itself.
type Info struct {
	Name        string
	Format      string // "png", "jpg" or "webp"
	Attribution string // HTML by the standard: hostile text until it is escaped
	Description string
	Bounds      tiles.Box
	Zooms       tiles.Zooms
	Own         bool  // made by groundsheet, with About, Area and Overlays
	About       About // for other files only Name, Zooms and TileSize are known
	Overlays    []Summary
	Area        []byte // GeoJSON, nil for other files
	Seals       Seals  // what its parts must be; zero for other files and earlier versions
	Derived     bool   // it holds data derived from its records
}

// NotPack is the kind of fault of a file that cannot be used as a pack.
var NotPack = fault.Input("not a pack")

// Newer is the kind of fault of a pack of a layout that this program does not know.
var Newer = fault.Input("a pack of a newer layout")

func notPack(path, detail, remedy string) error {
	return &fault.Fault{Kind: NotPack, Place: path, Detail: detail, Remedy: remedy}
}

// Open opens a pack as an untrusted file. It looks at the header and the
// metadata only, so it takes no longer for a large file; [Pack.Quick] reads
// the whole of it. A fault of the kind [NotPack] says why the file cannot be used.
func Open(ctx context.Context, path string) (*Pack, error) {
	file, err := checkHeader(path)
	if err != nil {
		return nil, err
	}
	p := &Pack{Path: path, file: file}
	p.limits = sync.OnceValue(p.findLimits)
	p.db = sqlite.OpenUntrusted(path, sqlite.Untrusted{Longest: longest, Confirm: p.confirm})
	short, cancel := context.WithTimeout(ctx, openTime)
	defer cancel()
	if err := p.load(short); err != nil {
		_ = p.Close() // nothing was written
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, err
	}
	return p, nil
}

// openTime is how long the description of a pack may take to read: a view in a
// hostile file may never end.
const openTime = 5 * time.Second

// Close lets the file go, when the reads that run have ended.
func (p *Pack) Close() error {
	var err error
	if p.get != nil {
		err = p.get.Close()
	}
	err = errors.Join(err, p.db.Close())
	sqlite.Trim()
	return err
}

// connections is how many connections a pack has: enough for a walk, for a look-up in
// its midst, and for others meanwhile. None is opened later, when another file
// may have the name.
const connections = 4

func (p *Pack) load(ctx context.Context) (err error) {
	if err := sqlite.Hold(ctx, p.db, connections); err != nil {
		return notPack(p.Path, fmt.Sprintf("cannot be opened (%v)", err),
			"name a pack that groundsheet pack wrote, or another MBTiles file")
	}
	if err := p.knownLayout(ctx); err != nil {
		return err
	}
	if err := sqlite.CheckSchema(ctx, p.db, tables()...); err != nil {
		return p.foreign(err)
	}
	rows, err := sqlite.Pairs(ctx, p.db, "metadata")
	if err != nil {
		return p.foreign(err)
	}
	p.get, err = sqlite.NewReader(p.Path, sqlite.ReaderOptions{
		Untrusted: sqlite.Untrusted{Longest: longestTile, Confirm: p.confirm},
		Query:     `SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=?`,
	})
	if err != nil {
		return p.foreign(err)
	}
	if err := p.describe(ctx, rows); err != nil {
		return err
	}
	if err := p.loadOwn(ctx); err != nil {
		return err
	}
	if p.Vector() && len(p.Info.About.Source.Drawn) == 0 {
		return notPack(p.Path, "its tiles are vector tiles, and nothing in it says as what its layers are drawn",
			`make it a source (kind = "mbtiles", format = "pbf") with [[NAME.draw]] tables, and pack from that`)
	}
	return nil
}

// Vector reports whether its tiles are vector tiles.
func (p *Pack) Vector() bool { return p.Info.Format == string(raster.PBF) }

// knownLayout refuses a pack that a newer program wrote.
func (p *Pack) knownLayout(ctx context.Context) error {
	var found, own int
	err := p.db.QueryRowContext(ctx, `SELECT user_version, (SELECT count(*) FROM sqlite_schema WHERE name = 'groundsheet_document') FROM pragma_user_version`).Scan(&found, &own)
	if err != nil {
		return p.foreign(err)
	}
	if own > 0 && found > layout {
		return &fault.Fault{Kind: Newer, Place: p.Path, Remedy: "use that version or a newer one, or let the office pack the job with this one under another name",
			Detail: fmt.Sprintf("the pack was written by a newer version of this program (layout %d, this version supports %d)", found, layout)}
	}
	return nil
}

// tables are what is read of a pack.
func tables() []string {
	return []string{
		"metadata", "tiles", "groundsheet_document", "groundsheet_overlay", "groundsheet_known",
		"groundsheet_wanted", "groundsheet_hole", "groundsheet_origin",
	}
}

func (p *Pack) foreign(err error) error {
	return notPack(p.Path, fmt.Sprintf("not an MBTiles file (%v)", err),
		"name a pack that groundsheet pack wrote, or another MBTiles file")
}

func (p *Pack) describe(ctx context.Context, rows map[string]string) error {
	p.Info = Info{Name: rows["name"], Format: rows["format"], Attribution: rows["attribution"],
		Description: rows["description"]}
	switch p.Info.Format {
	case "png", "jpg", "webp", "pbf":
	case "jpeg":
		p.Info.Format = "jpg" // not the standard's word, but meant so
	default:
		return notPack(p.Path, fmt.Sprintf("its tiles are of format %q", p.Info.Format),
			"only pictures (png, jpg, webp), and vector tiles (pbf) of a pack that groundsheet wrote, can be shown as a base map")
	}
	var err error
	if p.Info.Zooms, err = p.zooms(ctx, rows); err != nil {
		return err
	}
	p.Info.Bounds = parseBounds(rows["bounds"])
	p.Info.About = About{Name: p.Info.Name, Units: "metric", Zooms: [2]int{p.Info.Zooms.Min, p.Info.Zooms.Max},
		TileSize: 256}
	p.Info.About.Source.Attribution = plainText(p.Info.Attribution)
	return nil
}

// zooms trusts the metadata when it is sane, else looks at the tiles.
func (p *Pack) zooms(ctx context.Context, rows map[string]string) (tiles.Zooms, error) {
	low, errLow := strconv.Atoi(rows["minzoom"])
	high, errHigh := strconv.Atoi(rows["maxzoom"])
	z := tiles.Zooms{Min: low, Max: high}
	if errLow == nil && errHigh == nil && z.Check() == nil {
		return z, nil
	}
	var lowest, highest sql.NullInt64 // each asked for alone, so that an index answers
	err := p.db.QueryRowContext(ctx, `SELECT (SELECT min(zoom_level) FROM tiles), (SELECT max(zoom_level) FROM tiles)`).Scan(&lowest, &highest)
	if err != nil {
		return z, notPack(p.Path, fmt.Sprintf("its tiles cannot be read (%v)", err), "get the file again")
	}
	z = tiles.Zooms{Min: int(lowest.Int64), Max: int(highest.Int64)}
	if !lowest.Valid || z.Check() != nil {
		return z, notPack(p.Path, "it holds no tile", "pack the job again")
	}
	return z, nil
}

// parseBounds reads "left,bottom,right,top"; anything else is the whole world.
func parseBounds(s string) tiles.Box {
	world := tiles.Box{West: -180, South: -tiles.MaxLatitude, East: 180, North: tiles.MaxLatitude}
	parts := strings.Split(s, ",")
	if len(parts) != 4 {
		return world
	}
	var v [4]float64
	for i, text := range parts {
		n, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil {
			return world
		}
		v[i] = n
	}
	b := tiles.Box{West: v[0], South: v[1], East: v[2], North: v[3]}
	if !(b.West >= -180 && b.East <= 180 && b.West <= b.East && b.South >= -90 && b.North <= 90 && b.South <= b.North) {
		return world
	}
	return b
}

// Tile gives a tile's bytes as packed; nil when the pack has none there. It
// never takes longer than some seconds: [Endless] tells that it was broken off.
func (p *Pack) Tile(ctx context.Context, t tiles.ID) ([]byte, error) {
	data, err := p.get.Blob(ctx, int64(t.Z), int64(t.X), int64(t.TMSRow()))
	if err != nil {
		return nil, fmt.Errorf("%s: tile %v: %w", p.Path, t, err)
	}
	if len(data) == 0 {
		return nil, nil
	}
	return data, nil
}

// Nearest gives the deepest packed tile that holds t's ground: t itself or an
// ancestor. data is nil when not even the shallowest zoom has one. t may be
// deeper than [tiles.MaxZoom].
func (p *Pack) Nearest(ctx context.Context, t tiles.ID) (from tiles.ID, data []byte, err error) {
	if t.Z > uint32(p.Info.Zooms.Max) {
		t = t.Ancestor(t.Z - uint32(p.Info.Zooms.Max))
	}
	for {
		data, err := p.Tile(ctx, t)
		if err != nil || data != nil || t.Z <= uint32(p.Info.Zooms.Min) {
			return t, data, err
		}
		t = t.Parent()
	}
}

// Endless reports whether an error says that reading was broken off because it
// took too long.
func Endless(err error) bool { return sqlite.Sort(err) == sqlite.TooSlow }
