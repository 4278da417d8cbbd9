package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// suspicion counts what should not be there.
type suspicion struct{ words, query string }

// suspicions are cheap: none of them reads an image. PostgreSQL counts broken
// pages where it was set up with data checksums.
func suspicions() []suspicion {
	return []suspicion{
		{"tiles have no image", `SELECT count(*) FROM groundsheet.tiles t WHERE shelf = $1 AND hash IS NOT NULL
			AND NOT EXISTS (SELECT 1 FROM groundsheet.images i WHERE i.shelf = t.shelf AND i.hash = t.hash)`},
		{"tiles state another length than their image has", `SELECT count(*) FROM groundsheet.tiles t
			JOIN groundsheet.images i USING (shelf, hash) WHERE shelf = $1 AND t.bytes <> i.bytes`},
		{"images have another length than was written", `SELECT count(*) FROM groundsheet.images WHERE shelf = $1 AND octet_length(data) <> bytes`},
		{"pages of the database had a wrong checksum", `SELECT coalesce(sum(checksum_failures), 0)::bigint FROM pg_stat_database
			WHERE datname = current_database() AND $1::int IS NOT NULL`},
	}
}

// Sound implements [store.Maintenance]. Where the extension amcheck is installed and
// may be used, the indexes are looked at too. Images are compared with their
// hashes by whoever walks them.
func (s *Shelf) Sound(ctx context.Context) (flaws []string, err error) {
	err = s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		for _, p := range suspicions() {
			var n int64
			err := conn.QueryRow(ctx, p.query, shelf).Scan(&n)
			if text, broken := corrupt(err); broken {
				flaws = append(flaws, text)
			} else if err != nil {
				return err
			} else if n > 0 {
				flaws = append(flaws, fmt.Sprintf("%d %s", n, p.words))
			}
		}
		more, err := indexes(ctx, conn)
		flaws = append(flaws, more...)
		return err
	})
	return flaws, err
}

// corrupt reports an error that is itself a finding: XX001 and XX002
// (PostgreSQL, appendix A), or an image whose parts are not there (XX000).
func corrupt(err error) (text string, broken bool) {
	var pe *pgconn.PgError
	if errors.As(err, &pe) && strings.HasPrefix(pe.Code, "XX0") {
		return pe.Message, true
	}
	return "", false
}

// indexes looks at each index of the schema.
func indexes(ctx context.Context, conn *pgxpool.Conn) (flaws []string, err error) {
	var home string
	err = conn.QueryRow(ctx, `SELECT n.nspname FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace
		WHERE p.proname = 'bt_index_check' AND p.pronargs = 1 AND has_function_privilege(p.oid, 'EXECUTE')`).Scan(&home)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	rows, err := conn.Query(ctx, `SELECT i.indexrelid FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid
		JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = 'groundsheet' ORDER BY 1`)
	if err != nil {
		return nil, err
	}
	all, err := pgx.CollectRows(rows, pgx.RowTo[uint32])
	if err != nil {
		return nil, err
	}
	check := `SELECT ` + pgx.Identifier{home, "bt_index_check"}.Sanitize() + `($1::oid::regclass)`
	for _, index := range all {
		_, err := conn.Exec(ctx, check, index)
		if text, broken := corrupt(err); broken {
			flaws = append(flaws, text)
		} else if err != nil {
			return nil, err
		}
	}
	return flaws, nil
}
