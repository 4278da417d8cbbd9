package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"groundsheet/tiles/store"
)

// steps[i] brings the schema from version i to version i+1.
func steps() []string { return []string{first, kept} }

// first makes version 1. Images lie outside of their rows and uncompressed:
// they are compressed already, and counting rows then never touches them. What
// may hold any bytes (validators, paths) is bytea: text must be valid UTF-8.
const first = `
CREATE SCHEMA groundsheet;
CREATE TABLE groundsheet.version (one boolean PRIMARY KEY DEFAULT true CHECK (one), version int NOT NULL);
INSERT INTO groundsheet.version (version) VALUES (0);
CREATE TABLE groundsheet.shelves (
	id   int GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
	name text COLLATE "C" NOT NULL UNIQUE
);
CREATE TABLE groundsheet.images (
	shelf int NOT NULL REFERENCES groundsheet.shelves,
	hash  bytea NOT NULL, -- SHA-256
	bytes int NOT NULL,
	data  bytea NOT NULL,
	PRIMARY KEY (shelf, hash)
);
ALTER TABLE groundsheet.images ALTER COLUMN data SET STORAGE EXTERNAL, ALTER COLUMN hash SET STORAGE PLAIN;
CREATE TABLE groundsheet.tiles (
	shelf int NOT NULL, z int NOT NULL, y int NOT NULL, x int NOT NULL,
	hash bytea, -- NULL = a hole
	bytes int NOT NULL, media text NOT NULL, source text NOT NULL,
	fetched bigint NOT NULL, fresh_until bigint NOT NULL,
	etag bytea NOT NULL, last_modified bytea NOT NULL,
	no_transform boolean NOT NULL, -- the source forbids changing the image
	immutable boolean NOT NULL,    -- it does not change while fresh
	usable_until bigint NOT NULL,  -- stale, it may stand in until then
	PRIMARY KEY (shelf, z, y, x),
	FOREIGN KEY (shelf, hash) REFERENCES groundsheet.images
);
CREATE INDEX tiles_hash ON groundsheet.tiles (shelf, hash) WHERE hash IS NOT NULL;
CREATE TABLE groundsheet.runs (
	id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
	shelf int NOT NULL REFERENCES groundsheet.shelves,
	requests int NOT NULL, micros bigint NOT NULL
);
CREATE TABLE groundsheet.spent (
	shelf text NOT NULL, day text NOT NULL, requests int NOT NULL,
	granted int NOT NULL, -- what the latest asking got
	PRIMARY KEY (shelf, day)
);
CREATE TABLE groundsheet.turns (
	shelf text PRIMARY KEY,
	handed boolean NOT NULL,      -- false while a run has the turn, and after one that was killed
	left_at bigint[] NOT NULL, until bigint NOT NULL, -- by the clock of this server
	share float8 NOT NULL
);
CREATE TABLE groundsheet.jobs (
	key bytea NOT NULL, base int NOT NULL, name bytea NOT NULL, number bytea NOT NULL,
	shelf text NOT NULL, pack bytea NOT NULL, covers bytea NOT NULL,
	packed bigint NOT NULL, closed bigint NOT NULL,
	PRIMARY KEY (key, base)
);`

// kept makes version 2: which jobs are to be kept until a day. A program that does
// not know of it would prune them, so it refuses the schema.
const kept = `
CREATE TABLE groundsheet.kept (key bytea PRIMARY KEY, until text NOT NULL, reason bytea NOT NULL)`

// Locks are numbers that all programs on the database share; ours are spread
// by a hash, see [lockKey].
const schemaLock = "groundsheet schema"

// meet looks at the database: it must keep UTF-8, and a schema of an earlier
// version is brought up to date.
func (d *database) meet(ctx context.Context) error {
	var encoding string
	if err := d.pool.QueryRow(ctx, `SELECT current_setting('server_encoding')`).Scan(&encoding); err != nil {
		return d.fault(ctx, "cannot open", err)
	}
	if encoding != "UTF8" {
		return fmt.Errorf("the database %s keeps its text in %s: make one with ENCODING 'UTF8' for the office store",
			d.where, encoding)
	}
	version, err := d.version(ctx, d.pool)
	if err != nil || version == 0 || version == len(d.steps) {
		return err
	}
	return d.prepare(ctx)
}

// asker is a pool, a connection or a transaction.
type asker interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// version is that of the schema; 0 when there is none.
func (d *database) version(ctx context.Context, db asker) (version int, err error) {
	// Not to_regclass: it answers from a cache that may not know yet what another
	// computer has just made.
	const made = `SELECT EXISTS (SELECT 1 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname = 'groundsheet' AND c.relname = 'version')`
	var there bool
	if err := db.QueryRow(ctx, made).Scan(&there); err != nil || !there {
		return 0, d.fault(ctx, "cannot open", err)
	}
	if err := db.QueryRow(ctx, `SELECT version FROM groundsheet.version`).Scan(&version); err != nil {
		return 0, d.fault(ctx, "cannot open", err)
	}
	if version > len(d.steps) {
		return 0, store.NewerFormat(d.where, version, len(d.steps))
	}
	return version, nil
}

// prepare makes the schema or brings it up to date, once for each store. Other
// computers may be about to do the same: a lock lets one of them, and all of it
// happens in one transaction or not at all.
func (d *database) prepare(ctx context.Context) error {
	d.preparing.Lock()
	defer d.preparing.Unlock()
	if d.prepared {
		return nil
	}
	err := d.transact(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock($1)`, lockKey(schemaLock)); err != nil {
			return err
		}
		version, err := d.version(ctx, tx)
		if err != nil || version == len(d.steps) {
			return err
		}
		text := strings.Join(d.steps[version:], ";\n") + fmt.Sprintf(";\nUPDATE groundsheet.version SET version = %d",
			len(d.steps))
		_, err = tx.Exec(ctx, text, pgx.QueryExecModeSimpleProtocol)
		return err
	})
	d.prepared = err == nil
	return err
}

// unmade reports that the schema is not there: nothing was ever written.
func unmade(err error) bool {
	var pe *pgconn.PgError
	return errors.As(err, &pe) && (pe.Code == "42P01" || pe.Code == "3F000")
}
