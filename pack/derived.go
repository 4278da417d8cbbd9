package pack

import (
	"context"
	"database/sql"
	"errors"

	"groundsheet/pack/record/derive"
)

// Parts of what is known, as groundsheet_known holds them.
const (
	partFacts    = "known"
	partFeatures = "features"
)

func (p *packWriter) derived(ctx context.Context, c Content) error {
	if c.Derived == nil {
		return nil
	}
	for part, body := range map[string]string{partFacts: string(c.parts.Facts), partFeatures: string(c.parts.Features)} {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO groundsheet_known VALUES (?,?)`, part, body); err != nil {
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
	err = p.db.QueryRowContext(ctx, `SELECT octet_length(body) FROM groundsheet_known WHERE part=?`, partFeatures).Scan(&size)
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
