package pack

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"groundsheet/pack/record/derive"
)

// loadOwn reads what groundsheet wrote besides the tiles. A file with one of our
// tables but without its description is a damaged pack, not a foreign file.
func (p *Pack) loadOwn(ctx context.Context) error {
	var ours int
	err := p.db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type='table' AND name LIKE 'groundsheet\_%' ESCAPE '\'`).Scan(&ours)
	if err != nil {
		return p.unreadable("its tables", err)
	}
	if ours == 0 {
		return nil // another program's MBTiles: its own tables are all there is
	}
	about, err := p.document(ctx, "about")
	if err != nil || about == nil {
		return p.unreadable("what it says of itself", err)
	}
	if err := json.Unmarshal(about, &p.Info.About); err != nil {
		return p.unreadable("what it says of itself", err)
	}
	p.Info.Own = true
	if p.Info.Area, err = p.document(ctx, "area"); err != nil || p.Info.Area == nil {
		return p.unreadable("its area", err)
	}
	if p.Info.Overlays, err = p.summaries(ctx); err != nil {
		return p.unreadable("its overlays", err)
	}
	if err := p.readSeals(ctx); err != nil {
		return p.unreadable("what it proves itself by", err)
	}
	return p.hasDerived(ctx)
}

// hasDerived sets Info.Derived: a pack of an older program, or without records,
// holds no derived data.
func (p *Pack) hasDerived(ctx context.Context) error {
	var table, rows int
	err := p.db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type='table' AND name='groundsheet_known'`).Scan(&table)
	if err == nil && table == 1 {
		err = p.db.QueryRowContext(ctx, `SELECT count(*) FROM groundsheet_known`).Scan(&rows)
	}
	if err != nil {
		return p.unreadable("what is known under the ground", err)
	}
	p.Info.Derived = rows > 0
	return nil
}

func (p *Pack) unreadable(what string, err error) error {
	if err == nil {
		return notPack(p.Path, what+" is missing", "pack the job again")
	}
	return notPack(p.Path, fmt.Sprintf("%s cannot be read (%v)", what, err), "pack the job again")
}

func (p *Pack) document(ctx context.Context, key string) ([]byte, error) {
	var body string
	err := p.db.QueryRowContext(ctx, `SELECT body FROM groundsheet_document WHERE key=?`, key).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return []byte(body), nil
}

func (p *Pack) summaries(ctx context.Context) ([]Summary, error) {
	rows, err := p.db.QueryContext(ctx, `SELECT summary FROM groundsheet_overlay ORDER BY position`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := []Summary{}
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, err
		}
		var s Summary
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			return nil, err
		}
		if strings.Trim(s.ID, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || s.ID == "" {
			return nil, fmt.Errorf("overlay %q: no ID for an address", s.ID) // it could name another pack's
		}
		all = append(all, s)
	}
	return all, rows.Err()
}

// OverlayGeoJSON gives the GeoJSON of one overlay; nil when there is no such one.
func (p *Pack) OverlayGeoJSON(ctx context.Context, id string) ([]byte, error) {
	if !p.Info.Own {
		return nil, nil
	}
	var text string
	err := p.db.QueryRowContext(ctx, `SELECT features FROM groundsheet_overlay WHERE id=?`, id).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return []byte(text), err
}

// Size is how large a text of a pack is.
type Size struct {
	Bytes     int64
	Positions int64 // about: its opening brackets
}

// OverlaySize gives the size of an overlay's GeoJSON without reading it; zero
// when there is no such one.
func (p *Pack) OverlaySize(ctx context.Context, id string) (size Size, err error) {
	if !p.Info.Own {
		return size, nil
	}
	err = p.db.QueryRowContext(ctx, `SELECT octet_length(features), CASE WHEN octet_length(features) < ? THEN length(features) - length(replace(features,'[','')) ELSE 0 END
		FROM groundsheet_overlay WHERE id=?`, counted, id).Scan(&size.Bytes, &size.Positions)
	if errors.Is(err, sql.ErrNoRows) {
		return Size{}, nil
	}
	return size, err
}

// ContentBytes is what a reader of all tiles and records gets, in bytes; an image that
// stands at several places counts at each.
func (p *Pack) ContentBytes(ctx context.Context) (all int64, err error) {
	if err := p.db.QueryRowContext(ctx, `SELECT coalesce(sum(length(tile_data)), 0) FROM tiles`).Scan(&all); err != nil {
		return 0, err
	}
	for _, o := range p.Info.Overlays {
		size, err := p.OverlaySize(ctx, o.ID)
		if err != nil {
			return 0, err
		}
		all += size.Bytes
	}
	derived, err := p.DerivedSize(ctx)
	return all + derived, err
}

// counted are the bytes of a text whose positions are counted: a larger one is
// large by its bytes.
const counted = 4 << 20

// Parts of what is known, as groundsheet_known holds them.
const (
	partFacts    = "known"
	partFeatures = "features"
)

func (p *packWriter) derived(ctx context.Context, c Content) error {
	if c.Derived == nil {
		return nil
	}
	// always in this order: the same content makes the same file
	for _, one := range [][2]string{{partFacts, string(c.parts.Facts)}, {partFeatures, string(c.parts.Features)}} {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO groundsheet_known VALUES (?,?)`, one[0], one[1]); err != nil {
			return err
		}
	}
	return nil
}

// Derived gives the data that was derived from the records when the pack was written;
// nothing for a pack without it, see [Info.Derived]. A fault of the kind [NotPack] says
// that it is damaged.
func (p *Pack) Derived(ctx context.Context) (derive.Result, error) {
	var parts derive.Encoded
	var err error
	if !p.Info.Derived {
		return derive.Result{}, nil
	}
	if parts.Facts, err = p.DerivedPart(ctx, partFacts); err != nil {
		return derive.Result{}, err
	}
	if parts.Features, err = p.DerivedPart(ctx, partFeatures); err != nil {
		return derive.Result{}, err
	}
	k, err := derive.Decode(parts)
	if err != nil {
		return derive.Result{}, p.unreadable("what is known under the ground", err)
	}
	return k, nil
}

// DerivedFeatures gives the GeoJSON of zones, lines through readings, entries
// and crossings (see [derive.Result.Features]); nil for a pack without it.
func (p *Pack) DerivedFeatures(ctx context.Context) ([]byte, error) {
	if !p.Info.Derived {
		return nil, nil
	}
	return p.DerivedPart(ctx, partFeatures)
}

// DerivedSize gives the bytes of [Pack.DerivedFeatures] without reading them.
func (p *Pack) DerivedSize(ctx context.Context) (size int64, err error) {
	if !p.Info.Derived {
		return 0, nil
	}
	err = p.db.QueryRowContext(ctx, `SELECT octet_length(body) FROM groundsheet_known WHERE part=?`,
		partFeatures).Scan(&size)
	return size, err
}

// DerivedPart gives a part as it was packed and sealed: "known" or "features". A
// part that is missing is a [NotPack] fault.
func (p *Pack) DerivedPart(ctx context.Context, part string) ([]byte, error) {
	var body string
	err := p.db.QueryRowContext(ctx, `SELECT body FROM groundsheet_known WHERE part=?`, part).Scan(&body)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.Is(err, sql.ErrNoRows):
		return nil, p.unreadable("what is known under the ground", nil)
	case err != nil:
		return nil, p.unreadable("what is known under the ground", err)
	}
	return []byte(body), nil
}
