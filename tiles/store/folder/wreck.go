package folder

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// wreck reads a damaged file as far as it goes.
type wreck struct {
	ctx     context.Context
	db      *sql.DB
	columns string // of a record; 0 for those an earlier version had not
}

// open finds out which columns the file has.
func (w *wreck) open() error {
	rows, err := w.db.QueryContext(w.ctx, `SELECT name FROM pragma_table_info('tiles')`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var has []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return err
		}
		has = append(has, name)
	}
	if len(has) == 0 {
		return fmt.Errorf("no table of tiles: %w", rows.Err())
	}
	names := strings.Split("z y x hash bytes media source fetched fresh_until etag last_modified no_transform immutable usable_until", " ")
	for i, name := range names {
		if !slices.Contains(has, name) {
			names[i] = "0"
		}
	}
	w.columns = strings.Join(names, ", ")
	return rows.Err()
}

// spent is what can be read of the daily budgets.
func (w *wreck) spent() map[string]int {
	out := map[string]int{}
	rows, err := w.db.QueryContext(w.ctx, `SELECT day, requests FROM spent`)
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

// jobs are those of a register that can be read from either end.
func (w *wreck) jobs() []store.Job {
	var out []store.Job
	for _, order := range []string{"ORDER BY key, base", "ORDER BY key DESC, base DESC"} {
		rows, err := w.db.QueryContext(w.ctx, jobRows+order)
		if err != nil {
			continue
		}
		for rows.Next() {
			j, covers, err := scanJob(rows)
			if err != nil {
				break
			}
			known := slices.ContainsFunc(out, func(o store.Job) bool { return o.Key == j.Key && o.Base == j.Base })
			if j.Covers, err = store.ReadCovers(covers); err == nil && !known {
				out = append(out, j)
			}
		}
		_ = errors.Join(rows.Err(), rows.Close()) // what was read before it counts
	}
	return out
}

// wreckChunk is how many records are read in one go.
const wreckChunk = 256

// records hands over every record that can be read and proves. An error is the
// caller's own, or that of the context.
func (w *wreck) records(take func(store.Held) error) error {
	for z := range uint32(tiles.MaxZoom + 1) {
		if err := w.zoom(z, take); err != nil {
			return err
		}
	}
	return nil
}

// zoom reads one zoom. Where the table is broken it goes on behind the damage,
// after it has read back from there.
func (w *wreck) zoom(z uint32, take func(store.Held) error) error {
	at, end := tiles.ID{Z: z}, tiles.ID{Z: z + 1}
	for tiles.Compare(at, end) < 0 {
		recs, sound := w.chunk(at, end, "ASC", wreckChunk)
		if err := w.hand(recs, take); err != nil {
			return err
		}
		if len(recs) > 0 {
			at = recs[len(recs)-1].ID
			at.X++
		}
		switch {
		case sound && len(recs) < wreckChunk:
			return nil
		case sound:
			continue
		}
		next := w.behind(at, end)
		if err := w.back(at, next, take); err != nil {
			return err
		}
		at = next
	}
	return nil
}

// behind feels its way forward in doubling steps, along the row and then over
// the rows, to a place from which the table can be read again.
func (w *wreck) behind(at, end tiles.ID) tiles.ID {
	for step := uint32(1); step < 1<<at.Z; step *= 2 {
		if p := (tiles.ID{Z: at.Z, Y: at.Y, X: at.X + step}); w.readable(p, end) {
			return p
		}
	}
	for step := uint32(1); step < 1<<at.Z; step *= 2 {
		if p := (tiles.ID{Z: at.Z, Y: at.Y + step}); w.readable(p, end) {
			return p
		}
	}
	return end
}

func (w *wreck) readable(from, end tiles.ID) bool {
	_, sound := w.chunk(from, end, "ASC", 1)
	return sound
}

// back reads from one place back to the damage, which is somewhere behind at.
func (w *wreck) back(at, from tiles.ID, take func(store.Held) error) error {
	for {
		recs, sound := w.chunk(at, from, "DESC", wreckChunk)
		if err := w.hand(recs, take); err != nil || !sound || len(recs) < wreckChunk {
			return err
		}
		from = recs[len(recs)-1].ID
	}
}

// chunk reads some records from one place up to, not including, another; not
// sound means that the table broke on the way.
func (w *wreck) chunk(from, to tiles.ID, order string, most int) (recs []store.Held, sound bool) {
	rows, err := w.db.QueryContext(w.ctx, `SELECT `+w.columns+`, NULL FROM tiles WHERE (z, y, x) >= (?, ?, ?) AND (z, y, x) < (?, ?, ?)
		ORDER BY z `+order+`, y `+order+`, x `+order+` LIMIT ?`, from.Z, from.Y, from.X, to.Z, to.Y, to.X, most)
	if err != nil {
		return nil, false
	}
	defer rows.Close()
	for rows.Next() {
		r, err := scan(rows)
		outside := tiles.Compare(r.ID, from) < 0 || tiles.Compare(r.ID, to) >= 0
		if err != nil || outside || len(recs) > 0 && outOfOrder(recs[len(recs)-1].ID, r.ID, order) {
			return recs, false // a damaged page may lead anywhere, also round in a circle
		}
		recs = append(recs, r)
	}
	return recs, rows.Err() == nil
}

// outOfOrder reports whether a place does not follow the one before it.
func outOfOrder(before, now tiles.ID, order string) bool {
	if order == "DESC" {
		before, now = now, before
	}
	return tiles.Compare(before, now) >= 0
}

// hand reads the images and hands over what proves.
func (w *wreck) hand(recs []store.Held, take func(store.Held) error) error {
	for _, r := range recs {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		if !r.Hole {
			err := w.db.QueryRowContext(w.ctx, `SELECT i.data FROM tiles t JOIN images i ON i.id = t.image WHERE t.z = ? AND t.y = ? AND t.x = ?`,
				r.Z, r.Y, r.X).Scan(&r.Data)
			if err != nil || sha256.Sum256(r.Data) != r.Hash {
				continue // lost: it is fetched again when it is wanted
			}
		}
		if !r.Valid() {
			continue
		}
		if err := take(r); err != nil {
			return err
		}
	}
	return w.ctx.Err()
}
