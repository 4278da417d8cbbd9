package fieldbook

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

const (
	applicationID = 0x47534642 // "GSFB"
	fileLayout    = 1
)

//go:embed schema.sql
var schema string

// load proves that the file is a book of this layout, and reads what it belongs to.
func (b *Book) load(ctx context.Context) error {
	var id, version int
	if err := b.db.QueryRowContext(ctx, `SELECT application_id, user_version FROM pragma_application_id, pragma_user_version`).Scan(&id, &version); err != nil {
		return b.explain(err)
	}
	unmade := id == 0 && version == 0 && b.empty(ctx) // a kill left the file without its first commit
	switch {
	case unmade && b.read:
		return errUnmade
	case unmade:
		return b.create(ctx)
	case id != applicationID:
		return notBook(b.path, "the file is no field book")
	case version != fileLayout:
		return notBook(b.path, fmt.Sprintf("the field book has layout %d; this program knows %d", version, fileLayout))
	}
	if err := b.checkSchema(ctx); err != nil {
		return err
	}
	return b.readAbout(ctx)
}

// errUnmade says that a file has nothing in it yet.
var errUnmade = errors.New("there is nothing in it")

func (b *Book) empty(ctx context.Context) bool {
	var n int
	err := b.db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&n)
	return err == nil && n == 0
}

// checkSchema proves that the file holds the tables and triggers of a book and nothing
// else: a view or a trigger more would do as somebody else pleases.
func (b *Book) checkSchema(ctx context.Context) error {
	rows, err := b.db.QueryContext(ctx, `SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL LIMIT 100`)
	if err != nil {
		return b.explain(err)
	}
	defer rows.Close()
	var found []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return b.explain(err)
		}
		found = append(found, text)
	}
	if err := rows.Err(); err != nil {
		return b.explain(err)
	}
	wanted := statements()
	slices.Sort(found)
	slices.Sort(wanted)
	if !slices.Equal(found, wanted) {
		return notBook(b.path, "another program changed the tables of the field book")
	}
	return nil
}

// statements are those of the schema, as SQLite keeps them.
func statements() (all []string) {
	for line := range strings.Lines(schema) {
		all = append(all, strings.TrimSuffix(strings.TrimSpace(line), ";"))
	}
	return all
}

func (b *Book) readAbout(ctx context.Context) error {
	pairs, err := b.pairs(ctx, b.db)
	if err != nil {
		return err
	}
	b.about = About{}
	for _, p := range pairs {
		switch p[0] {
		case "book":
			b.about.Book = p[1]
		case "made":
			b.about.Made, _ = time.Parse(time.RFC3339Nano, p[1])
		case "name":
			b.about.Name = p[1]
		case "number":
			b.about.Number = p[1]
		case "program":
			b.about.Program = p[1]
		case "seal":
			b.about.Seal = p[1]
		case laterSeal:
			b.about.Later = append(b.about.Later, p[1])
		}
	}
	return nil
}

const laterSeal = "later seal"

type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// pairs are the rows of about in the order in which they are hashed.
func (b *Book) pairs(ctx context.Context, db querier) (all [][2]string, err error) {
	rows, err := db.QueryContext(ctx, `SELECT key, value FROM about ORDER BY key, value LIMIT 10000`)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	for rows.Next() {
		var p [2]string
		if err := rows.Scan(&p[0], &p[1]); err != nil {
			return nil, b.explain(err)
		}
		all = append(all, p)
	}
	return all, b.explain(rows.Err())
}

// create makes the tables of a new book in one commit.
func (b *Book) create(ctx context.Context) error {
	var random [16]byte
	_, _ = rand.Read(random[:]) // never fails, says crypto/rand
	about := b.about
	about.Book, about.Made, about.Later = hex.EncodeToString(random[:]), b.o.Now().UTC(), nil
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return b.explain(err)
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	for _, text := range append(statements(), fmt.Sprintf("PRAGMA application_id=%d", applicationID), fmt.Sprintf("PRAGMA user_version=%d", fileLayout)) {
		if _, err := tx.ExecContext(ctx, text); err != nil {
			return b.explain(err)
		}
	}
	for _, p := range [][2]string{{"book", about.Book}, {"made", stamp(about.Made)}, {"name", about.Name}, {"number", about.Number},
		{"program", about.Program}, {"seal", about.Seal}} {
		if _, err := tx.ExecContext(ctx, `INSERT INTO about VALUES(?,?)`, p[0], p[1]); err != nil {
			return b.explain(err)
		}
	}
	if err := tx.Commit(); err != nil {
		return b.explain(err)
	}
	b.about = about
	return nil
}

// identity is what comes before the first entry.
func identity(pairs [][2]string) string {
	var b bytes.Buffer
	for _, p := range pairs {
		if p[0] != laterSeal {
			netstring(&b, p[0])
			netstring(&b, p[1])
		}
	}
	return hashOf(b.Bytes())
}

// timeForm has a fixed width, so that texts sort as times.
const timeForm = "2006-01-02T15:04:05.000Z"

func stamp(t time.Time) string { return t.UTC().Format(timeForm) }
