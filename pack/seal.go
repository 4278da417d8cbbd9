package pack

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"maps"
	"slices"
	"strconv"
)

// Seals prove that nothing in a pack but its tiles was changed since it was
// written: a hash of each part, and one over all of them. A tile has its hash
// in the part "origins". They find accidents; who changes a pack on purpose can
// seal it again, and only a [Signature] finds that.
type Seals struct {
	Parts   map[string]string `json:"parts"`   // SHA-256 in hex by the name of the part
	Content string            `json:"content"` // of all that decides the pack, so that an equal one is not written again
	Seal    string            `json:"seal"`    // over Parts and Content: it names this very pack
}

// sealsKey and signatureKey are the documents that no part can hold.
const (
	sealsKey     = "seals"
	signatureKey = "signature"
)

// sealed lists the tables and how their rows form parts: the first column names the
// part, "" puts the whole table into one.
var sealed = []struct {
	name, table string
	one         bool // the whole table is one part, also without rows
	query       string
}{
	{"metadata", "metadata", true, `SELECT '', name, value FROM metadata ORDER BY name, rowid`},
	{"document", "groundsheet_document", false, `SELECT key, key, body FROM groundsheet_document WHERE key NOT IN ('seals','signature') ORDER BY key, rowid`},
	{"wanted", "groundsheet_wanted", true, `SELECT '', zoom, row, first, last FROM groundsheet_wanted ORDER BY zoom, row, first, last`},
	{"holes", "groundsheet_hole", true,
		`SELECT '', zoom, row, col, fetched FROM groundsheet_hole ORDER BY zoom, row, col`},
	{"origins", "groundsheet_origin", true, `SELECT '', zoom, row, col, fetched, etag, last_modified, sha256, recoded FROM groundsheet_origin ORDER BY zoom, row, col`},
	{"overlay", "groundsheet_overlay", false,
		`SELECT id, position, id, summary, features FROM groundsheet_overlay ORDER BY position`},
	{"known", "groundsheet_known", false, `SELECT part, part, body FROM groundsheet_known ORDER BY part, rowid`},
}

// querier is a database or a transaction in it.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// sealParts computes the seal of each part of the file.
func sealParts(ctx context.Context, db querier) (map[string]string, error) {
	parts := map[string]string{}
	for _, table := range sealed {
		var there int
		err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name=?`, table.table).Scan(&there)
		if err == nil && there > 0 { // else its parts are missing
			err = sealTable(ctx, db, table.name, table.one, table.query, parts)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", table.name, err)
		}
	}
	return parts, nil
}

func sealTable(ctx context.Context, db querier, name string, one bool, query string, parts map[string]string) error {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	cells, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range cells {
		into[i] = &cells[i]
	}
	by := map[string]hash.Hash{}
	if one {
		by[name] = sha256.New()
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		part := name
		if of := fmt.Sprint(plain(cells[0])); of != "" {
			part += " " + of
		}
		if by[part] == nil {
			by[part] = sha256.New()
		}
		row(by[part], cells[1:]...)
	}
	for part, h := range by {
		parts[part] = hex.EncodeToString(h.Sum(nil))
	}
	return rows.Err()
}

func plain(v any) any {
	if b, ok := v.([]byte); ok {
		return string(b)
	}
	return v
}

// row adds the cells of a row: the kind of each, its length and its bytes, so
// that no two rows hash alike.
func row(h hash.Hash, cells ...any) {
	for _, v := range cells {
		kind, text := "null", ""
		switch v := v.(type) {
		case int64:
			kind, text = "integer", strconv.FormatInt(v, 10)
		case float64:
			kind, text = "real", strconv.FormatFloat(v, 'g', -1, 64)
		case string:
			kind, text = "text", v
		case []byte:
			kind, text = "blob", string(v)
		case nil:
		default:
			kind, text = fmt.Sprintf("%T", v), fmt.Sprint(v)
		}
		fmt.Fprintf(h, "%s %d:", kind, len(text))
		h.Write([]byte(text))
	}
	h.Write([]byte{'\n'})
}

// rowSeal is the seal of a part of one row.
func rowSeal(cells ...any) string {
	h := sha256.New()
	row(h, cells...)
	return hex.EncodeToString(h.Sum(nil))
}

// AreaPart names the part that holds the dig area.
const AreaPart = "document area"

// AreaSeal is the seal of a dig area as a pack would hold it.
func AreaSeal(area []byte) string { return rowSeal("area", string(area)) }

// over is the seal over all parts.
func (s Seals) over() string {
	h := sha256.New()
	row(h, "content", s.Content)
	for _, part := range slices.Sorted(maps.Keys(s.Parts)) {
		row(h, part, s.Parts[part])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// seals is the last step of writing. It seals what the file holds now.
func (p *packWriter) seals(ctx context.Context, _ Content) (err error) {
	s := Seals{Content: p.scan.seal}
	if s.Parts, err = sealParts(ctx, p.tx); err != nil {
		return err
	}
	s.Seal = s.over()
	if err := p.document(ctx, sealsKey, s); err != nil || p.opts.Sign == nil {
		return err
	}
	return p.document(ctx, signatureKey, Signature{p.opts.Sign.Public().(ed25519.PublicKey),
		ed25519.Sign(p.opts.Sign, signed(s.Seal))})
}

// document writes a document as JSON; bytes are JSON already.
func (p *packWriter) document(ctx context.Context, key string, body any) (err error) {
	text, written := body.([]byte)
	if !written {
		if text, err = json.Marshal(body); err != nil {
			return err
		}
	}
	_, err = p.tx.ExecContext(ctx, `INSERT INTO groundsheet_document VALUES (?,?)`, key, string(text))
	return err
}

// readSeals reads what the pack says that its parts must be; the zero value for
// a pack of an earlier version, that has none.
func (p *Pack) readSeals(ctx context.Context) error {
	text, err := p.onlyDocument(ctx, sealsKey)
	if err != nil || text == nil {
		return err
	}
	return json.Unmarshal(text, &p.Info.Seals)
}

// onlyDocument refuses a document that is there twice: which one a reader gets is
// undefined.
func (p *Pack) onlyDocument(ctx context.Context, key string) ([]byte, error) {
	var n int
	if err := p.db.QueryRowContext(ctx, `SELECT count(*) FROM groundsheet_document WHERE key=?`,
		key).Scan(&n); err != nil {
		return nil, err
	}
	if n > 1 {
		return nil, errors.New("it is there twice")
	}
	return p.document(ctx, key)
}

// Prove computes the seals again. It names the parts that differ from what was
// packed, those that are missing and those that were not packed, each sorted. All
// are empty for an intact pack.
func (p *Pack) Prove(ctx context.Context) (changed, missing, foreign []string, err error) {
	s := p.Info.Seals
	found, err := sealParts(ctx, p.db)
	if err != nil {
		if ctx.Err() != nil {
			return nil, nil, nil, ctx.Err()
		}
		return nil, nil, nil, p.unreadable("a part of it", err)
	}
	for part, seal := range s.Parts {
		switch now, there := found[part]; {
		case !there:
			missing = append(missing, part)
		case now != seal:
			changed = append(changed, part)
		}
	}
	for part := range found {
		if _, known := s.Parts[part]; !known {
			foreign = append(foreign, part)
		}
	}
	if s.Seal != s.over() {
		changed = append(changed, "seals")
	}
	slices.Sort(changed)
	slices.Sort(missing)
	slices.Sort(foreign)
	return changed, missing, foreign, nil
}

// Name is the beginning of the seal, as people compare it: "3f9a-12bc"; "" for a
// pack without seals.
func (s Seals) Name() string {
	if len(s.Seal) < 8 {
		return ""
	}
	return s.Seal[:4] + "-" + s.Seal[4:8]
}
