package folder

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// damagedFile is a file that is read as far as possible.
type damagedFile struct{ db *sql.DB }

// openDamaged opens a damaged file.
func openDamaged(path string) (damagedFile, error) {
	if err := lengthen(path); err != nil {
		return damagedFile{}, err
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw",
		Pragmas: []string{"trusted_schema=OFF", "cell_size_check=ON", "query_only=ON"}})
	db.SetMaxOpenConns(1)
	return damagedFile{db}, nil
}

// longestFile bounds the length that is believed of a header.
const longestFile = 1 << 40

// lengthen gives a file that was cut short the length that its header states
// (SQLite, "Database File Format", 1.3): the engine reads nothing at all of a
// shorter one. The added part is a hole and takes no room on the disk.
func lengthen(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	header := make([]byte, 100)
	n, _ := io.ReadFull(f, header) // a shorter file cannot be read anyway
	if err := f.Close(); err != nil || n < len(header) {
		return err
	}
	page := int64(binary.BigEndian.Uint16(header[16:]))
	if page == 1 {
		page = 65536
	}
	want := page * int64(binary.BigEndian.Uint32(header[28:]))
	if fileSize(path) >= want || want > longestFile {
		return nil
	}
	return os.Truncate(path, want)
}

// spent reads the daily budgets as far as possible.
func (d damagedFile) spent(ctx context.Context) map[string]int {
	out := map[string]int{}
	rows, err := d.db.QueryContext(ctx, `SELECT day, requests FROM spent`)
	if err != nil {
		return out // an earlier version had none, or it is lost
	}
	defer rows.Close()
	for rows.Next() {
		var day string
		var n int
		if rows.Scan(&day, &n) == nil && n > 0 {
			out[day] = n
		}
	}
	_ = rows.Err() // what was read before it counts
	return out
}

// jobs reads the jobs of a register from both ends as far as possible.
func (d damagedFile) jobs(ctx context.Context) (out []store.PackedJob) {
	for _, order := range []string{"ORDER BY key, base", "ORDER BY key DESC, base DESC"} {
		rows, err := d.db.QueryContext(ctx, `SELECT *, '', '' FROM jobs `+order)
		for err == nil && rows.Next() {
			var j store.PackedJob
			if j, err = scanJob(rows, ""); err == nil && !slices.ContainsFunc(out,
				func(o store.PackedJob) bool { return o.Key == j.Key && o.Base == j.Base }) {
				out = append(out, j)
			}
		}
		if rows != nil {
			_ = errors.Join(rows.Err(), rows.Close()) // what was read before it counts
		}
	}
	kept := d.kept(ctx)
	for i, j := range out {
		out[i].Keep = kept[j.Key]
	}
	return out
}

// kept reads which jobs are to be kept, as far as possible.
func (d damagedFile) kept(ctx context.Context) map[string]store.Keeping {
	out := map[string]store.Keeping{}
	rows, err := d.db.QueryContext(ctx, `SELECT key, until, reason FROM kept`)
	if err != nil {
		return out // an earlier version had none, or it is lost
	}
	defer rows.Close()
	for rows.Next() {
		var key string
		var k store.Keeping
		if rows.Scan(&key, &k.Until, &k.Reason) == nil {
			out[key] = k
		}
	}
	_ = rows.Err() // what was read before it counts
	return out
}

// columns lists the columns of a record, with 0 for those that the file's
// earlier version had not.
func (d damagedFile) columns(ctx context.Context) (string, error) {
	var has string
	err := d.db.QueryRowContext(ctx,
		`SELECT coalesce(group_concat(name, ' '), '') FROM pragma_table_info('tiles')`).Scan(&has)
	if err != nil || has == "" {
		return "", fmt.Errorf("no table of tiles: %w", err)
	}
	names := strings.Fields("z y x hash bytes media source fetched fresh_until etag last_modified no_transform immutable usable_until")
	for i, name := range names {
		if !slices.Contains(strings.Fields(has), name) {
			names[i] = "0"
		}
	}
	return strings.Join(names, ", "), nil
}

// salvageChunk is how many records are read at once.
const salvageChunk = 256

// records calls use for every readable record whose image matches its hash.
// Each zoom is read from both ends, up to the damage. An error is that of use or
// of the context.
func (d damagedFile) records(ctx context.Context, columns string, use func(store.Held) error) error {
	for z := range uint32(tiles.MaxZoom + 1) {
		from, to := tiles.ID{Z: z}, tiles.ID{Z: z + 1}
		for _, order := range []string{"ASC", "DESC"} {
			for more := true; more; {
				recs, sound := d.chunk(ctx, columns, from, to, order)
				if err := d.withImages(ctx, recs, use); err != nil {
					return err
				}
				more = sound && len(recs) == salvageChunk
				if len(recs) > 0 && order == "ASC" {
					from = recs[len(recs)-1].ID
					from.X++
				} else if len(recs) > 0 {
					to = recs[len(recs)-1].ID
				}
				if sound && !more {
					from = to // read to the end
				}
			}
		}
	}
	return nil
}

// chunk reads some records of [from, to); sound is false when the table broke
// on the way.
func (d damagedFile) chunk(ctx context.Context, columns string, from, to tiles.ID,
	order string) (recs []store.Held, sound bool) {
	rows, err := d.db.QueryContext(ctx, `SELECT `+columns+`, NULL FROM tiles WHERE (z, y, x) >= (?, ?, ?) AND (z, y, x) < (?, ?, ?)
		ORDER BY z `+order+`, y `+order+`, x `+order+` LIMIT ?`, from.Z, from.Y, from.X, to.Z, to.Y, to.X, salvageChunk)
	if err != nil {
		return nil, false
	}
	defer rows.Close()
	for rows.Next() {
		r, err := scan(rows)
		if err != nil || tiles.Compare(r.ID, from) < 0 || tiles.Compare(r.ID, to) >= 0 {
			return recs, false // a damaged page may lead anywhere, also round in a circle
		}
		recs = append(recs, r)
		if order == "ASC" {
			from = r.ID
			from.X++
		} else {
			to = r.ID
		}
	}
	return recs, rows.Err() == nil
}

// withImages reads the images of records and calls use for those that match.
func (d damagedFile) withImages(ctx context.Context, recs []store.Held, use func(store.Held) error) error {
	for _, r := range recs {
		if !r.Hole {
			err := d.db.QueryRowContext(ctx, `SELECT i.data FROM tiles t JOIN images i ON i.id = t.image WHERE t.z = ? AND t.y = ? AND t.x = ?`,
				r.Z, r.Y, r.X).Scan(&r.Data)
			if err != nil || sha256.Sum256(r.Data) != r.Hash {
				continue // lost: it is fetched again when it is wanted
			}
		}
		if !r.Valid() {
			continue
		}
		if err := use(r); err != nil {
			return err
		}
	}
	return ctx.Err()
}
