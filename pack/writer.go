package pack

import (
	"context"
	"crypto/sha256"
	"database/sql"
	_ "embed"
	"encoding/hex"
	"fmt"
	"html"
	"maps"
	"strings"
	"time"

	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

//go:embed schema.sql
var schema string

// packWriter is one writing pass over an open, empty file.
type packWriter struct {
	tx      *sql.Tx
	scan    prescanned
	quality int
	opts    WriteOptions
	about   About
	written Written
	image   map[[32]byte]int64 // image_id by hash, when images are shared
	put     statements

	suspects map[string]*Suspect // by the hash of the image as the source sent it
	layers   vectorLayers        // of vector tiles
}

type statements struct{ tile, image, ref, origin, hole *sql.Stmt }

func (p *packWriter) run(ctx context.Context, c Content) error {
	steps := []func(context.Context, Content) error{p.tables, p.wanted, p.tiles, p.indexes, p.overlays, p.derived, p.metadata, p.documents, p.seals}
	for _, step := range steps {
		if err := step(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

func (p *packWriter) tables(ctx context.Context, _ Content) error {
	tables := `CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)`
	if p.scan.share {
		p.written.Shared = true
		p.image = map[[32]byte]int64{}
		tables = `CREATE TABLE groundsheet_image (image_id integer PRIMARY KEY, tile_data blob);
		 CREATE TABLE groundsheet_place (zoom_level integer, tile_column integer, tile_row integer, image_id integer);
		 CREATE VIEW tiles AS SELECT zoom_level, tile_column, tile_row, tile_data FROM groundsheet_place JOIN groundsheet_image USING (image_id)`
	}
	if _, err := p.tx.ExecContext(ctx, schema+tables); err != nil {
		return err
	}
	return p.prepare(ctx)
}

func (p *packWriter) prepare(ctx context.Context) (err error) {
	add := func(into **sql.Stmt, query string) {
		if err == nil {
			*into, err = p.tx.PrepareContext(ctx, query)
		}
	}
	add(&p.put.origin, `INSERT INTO groundsheet_origin VALUES (?,?,?,?,?,?,?,?)`)
	add(&p.put.hole, `INSERT INTO groundsheet_hole VALUES (?,?,?,?)`)
	if p.scan.share {
		add(&p.put.image, `INSERT INTO groundsheet_image VALUES (?,?)`)
		add(&p.put.ref, `INSERT INTO groundsheet_place VALUES (?,?,?,?)`)
	} else {
		add(&p.put.tile, `INSERT INTO tiles VALUES (?,?,?,?)`)
	}
	return err
}

func (p *packWriter) wanted(ctx context.Context, c Content) error {
	stmt, err := p.tx.PrepareContext(ctx, `INSERT INTO groundsheet_wanted VALUES (?,?,?,?)`)
	if err != nil {
		return err
	}
	for _, cover := range c.Covers {
		for _, s := range cover.Spans() {
			if _, err := stmt.ExecContext(ctx, cover.Zoom(), s.Row, s.First, s.Last); err != nil {
				return err
			}
		}
	}
	return stmt.Close()
}

func (p *packWriter) tiles(ctx context.Context, c Content) error {
	var done int64
	for img, err := range encodeAhead(ctx, c.held(ctx, true, c.Covers...), p.encode) {
		if err == nil {
			err = p.one(ctx, img)
		}
		if err != nil {
			return err
		}
		if done++; p.opts.Progress != nil && (done%64 == 0 || done == p.scan.records) {
			p.opts.Progress(done, p.scan.records)
		}
	}
	return nil
}

func (p *packWriter) one(ctx context.Context, r packable) error {
	p.age(r.Fetched)
	if r.Hole {
		p.written.Holes++
		if r.Hash != ([32]byte{}) {
			p.about.Placeholders++
		}
		_, err := p.put.hole.ExecContext(ctx, r.Z, r.Y, r.X, stamp(r.Fetched))
		return err
	}
	if r.flaw != nil {
		p.about.Undecodable++
		return nil
	}
	p.written.Tiles++
	sum := r.Hash // reading from the store proved it
	if r.recoded {
		sum = sha256.Sum256(r.data)
		p.written.Recoded++
	}
	if s := p.suspects[hex.EncodeToString(r.Hash[:])]; s != nil {
		s.Packed = hex.EncodeToString(sum[:])
		s.Tiles++
	}
	if _, err := p.put.origin.ExecContext(ctx, r.Z, r.Y, r.X, stamp(r.Fetched), r.ETag, r.LastModified,
		sum[:], r.recoded); err != nil {
		return err
	}
	if !p.scan.share {
		_, err := p.put.tile.ExecContext(ctx, r.Z, r.X, r.TMSRow(), r.data)
		return err
	}
	id, known := p.image[sum]
	if !known {
		id = int64(len(p.image) + 1)
		p.image[sum] = id
		if _, err := p.put.image.ExecContext(ctx, id, r.data); err != nil {
			return err
		}
	}
	_, err := p.put.ref.ExecContext(ctx, r.Z, r.X, r.TMSRow(), id)
	return err
}

func (p *packWriter) age(t time.Time) {
	if t.IsZero() {
		return
	}
	f := p.about.Fetched
	if f == nil {
		p.about.Fetched = &Fetched{t.UTC(), t.UTC()}
		return
	}
	if t.Before(f.Oldest) {
		f.Oldest = t.UTC()
	}
	if t.After(f.Newest) {
		f.Newest = t.UTC()
	}
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// indexes are made last: sorting once is faster than keeping order.
func (p *packWriter) indexes(ctx context.Context, _ Content) error {
	table := "tiles"
	if p.scan.share {
		table = "groundsheet_place"
	}
	_, err := p.tx.ExecContext(ctx, `CREATE UNIQUE INDEX tile_place ON `+table+` (zoom_level, tile_column, tile_row);
	 CREATE INDEX wanted_place ON groundsheet_wanted (zoom, row, first)`)
	return err
}

func (p *packWriter) overlays(ctx context.Context, c Content) error {
	for i, o := range c.Overlays {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO groundsheet_overlay VALUES (?,?,?,?)`, i, o.ID,
			o.Summary, o.Features); err != nil {
			return err
		}
	}
	return nil
}

func (p *packWriter) documents(ctx context.Context, c Content) error {
	p.about.Tiles, p.about.Holes, p.about.Packed, p.about.Decoded = p.written.Tiles, p.written.Holes, p.now(), true
	p.about.Suspects = ListSuspects(maps.Values(p.suspects))
	if p.about.KeepUntil = nil; c.Terms != nil && c.Terms.KeepAtMost > 0 && p.about.Fetched != nil {
		until := p.about.Fetched.Oldest.Add(time.Duration(c.Terms.KeepAtMost))
		p.about.KeepUntil = &until
	}
	for _, d := range []struct {
		key  string
		body any
	}{{"about", p.about}, {"area", c.Area}, {"terms", c.Terms}} {
		if err := p.document(ctx, d.key, d.body); err != nil {
			return err
		}
	}
	return nil
}

func (p *packWriter) now() time.Time { return p.opts.now() }

func (o WriteOptions) now() time.Time {
	if o.Now != nil {
		return o.Now().UTC()
	}
	return time.Now().UTC()
}

// metadata writes the rows of MBTiles 1.3, "Metadata". bounds is an area that
// every zoom covers; center lies in it.
func (p *packWriter) metadata(ctx context.Context, c Content) error {
	lon, lat := c.Bounds.Center()
	low, high := c.Covers[0].Zoom(), c.Covers[len(c.Covers)-1].Zoom()
	rows := [][2]string{
		{"name", c.About.Name},
		{"format", string(p.scan.format)},
		{"bounds", fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", c.Bounds.West, c.Bounds.South, c.Bounds.East, c.Bounds.North)},
		{"center", fmt.Sprintf("%.9f,%.9f,%d", lon, lat, high)},
		{"minzoom", fmt.Sprint(low)},
		{"maxzoom", fmt.Sprint(high)},
		{"attribution", html.EscapeString(c.About.Source.Attribution)}, // the row is HTML by the standard
		{"description", p.description()},
		{"type", "baselayer"},
		{"version", "1"},
	}
	if p.scan.format == raster.PBF { // MBTiles 1.3, "Vector tileset metadata"
		text, err := p.layers.json()
		if err != nil {
			return err
		}
		rows = append(rows, [2]string{"json", text})
	}
	for _, r := range rows {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO metadata VALUES (?,?)`, r[0], r[1]); err != nil {
			return err
		}
	}
	return nil
}

func (p *packWriter) description() string {
	parts := []string{words.Say("packfile.site_pack")}
	if p.about.Number != "" {
		parts = append(parts, words.Say("packfile.job", "number", p.about.Number))
	}
	if p.about.Invented {
		parts = append(parts, words.Say("packfile.invented"))
	}
	captured := words.Say("packfile.captured", "when", orUnknown(p.about.Source.Captured))
	if len(p.about.Source.Drawn) > 0 {
		captured = words.Say("drawn.captured", "files", p.about.Source.Files())
	}
	parts = append(parts, captured,
		words.Say("packfile.packed", "day", p.now().Format(time.DateOnly)))
	return strings.Join(parts, "; ")
}
