package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"groundsheet/tiles/sqlite"
)

const (
	applicationID = 0x47535354 // "GSST", in the file header at byte 68
	schemaVersion = 3
)

// schema keeps what a plan asks for (everything but the image) together in
// tile order, so that walking a cover never touches image pages. A tile with
// no image is a hole. Times are microseconds since 1970, UTC.
const schema = `
CREATE TABLE images (
	id   INTEGER PRIMARY KEY,
	hash BLOB NOT NULL UNIQUE,
	data BLOB NOT NULL
);
CREATE TABLE tiles (
	z INTEGER NOT NULL, y INTEGER NOT NULL, x INTEGER NOT NULL,
	image INTEGER REFERENCES images(id),
	hash BLOB, bytes INTEGER NOT NULL, media TEXT NOT NULL,
	source TEXT NOT NULL, fetched INTEGER NOT NULL, fresh_until INTEGER NOT NULL,
	etag TEXT NOT NULL, last_modified TEXT NOT NULL,
	no_transform INTEGER NOT NULL, -- the source forbids changing the image
	PRIMARY KEY (z, y, x)
) WITHOUT ROWID;
CREATE INDEX tiles_image ON tiles(image) WHERE image IS NOT NULL;
` + runs + ";"

// runs is how fast the source answered, one row a run of fetching.
const runs = `CREATE TABLE runs (ended INTEGER NOT NULL, requests INTEGER NOT NULL, micros INTEGER NOT NULL)`

// upgrades bring a store of version i+1 to version i+2.
func upgrades() []string {
	return []string{
		`ALTER TABLE tiles ADD COLUMN no_transform INTEGER NOT NULL DEFAULT 0`,
		runs,
	}
}

// prepare makes sure the file is a store file of this version, makes its
// tables when it is empty, and switches it to WAL.
func (s *Shelf) prepare(ctx context.Context, db *sql.DB) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return s.fault("cannot open", err)
	}
	defer conn.Close() //nolint:errcheck // only gives it back to the pool
	version, err := s.identify(ctx, conn)
	if err != nil {
		return err
	}
	if version != schemaVersion {
		if err := s.create(ctx, conn); err != nil {
			return err
		}
	}
	return s.fault("cannot open", switchToWAL(ctx, conn))
}

// identify gives the version of the tables; 0 means an empty file.
func (s *Shelf) identify(ctx context.Context, conn *sql.Conn) (version int, err error) {
	var app, tables int
	err = conn.QueryRowContext(ctx, `SELECT a.application_id, v.user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id a, pragma_user_version v`).Scan(&app, &version, &tables)
	switch {
	case err != nil:
		return 0, s.fault("cannot open", err)
	case app == applicationID && version >= 1 && version <= schemaVersion:
		return version, nil
	case app == applicationID && version > schemaVersion:
		return 0, &Newer{s.path, version, schemaVersion}
	case app == 0 && version == 0 && tables == 0:
		return 0, nil
	}
	return 0, fmt.Errorf("%s is a database of another program (application id %#x, version %d); move it out of the store folder", s.path, uint32(app), version)
}

// create makes the tables, or brings older ones up to date, in one transaction,
// so that a killed process leaves the file as it was or whole. Another process may have been first.
func (s *Shelf) create(ctx context.Context, conn *sql.Conn) error {
	if _, err := conn.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		return s.fault("cannot create", err)
	}
	version, err := s.identify(ctx, conn)
	steps := schema
	if version > 0 {
		steps = strings.Join(upgrades()[version-1:], ";") + ";"
	}
	if err == nil && version != schemaVersion {
		_, err = conn.ExecContext(ctx, steps+fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;", applicationID, schemaVersion))
	}
	end := "COMMIT"
	if err != nil {
		end = "ROLLBACK"
	}
	if _, endErr := conn.ExecContext(context.WithoutCancel(ctx), end); err == nil {
		err = endErr
	}
	if err != nil {
		return s.fault("cannot create", err)
	}
	return nil
}

// switchToWAL lets readers and a writer work side by side. The switch does not
// wait for other connections by itself.
func switchToWAL(ctx context.Context, conn *sql.Conn) error {
	for end := time.Now().Add(busyWait); ; {
		var mode string
		err := conn.QueryRowContext(ctx, "PRAGMA journal_mode=WAL").Scan(&mode)
		busy := sqlite.Sort(err) == sqlite.Busy
		switch {
		case err == nil && mode == "wal":
			return nil
		case err == nil:
			return fmt.Errorf("the file system allows no write-ahead log (journal mode %q); use a folder on a local disk", mode)
		case !busy || time.Now().After(end):
			return err
		}
		select {
		case <-time.After(20 * time.Millisecond):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
