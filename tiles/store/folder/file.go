package folder

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// busyWait is how long a statement waits for another process's write.
const busyWait = 10 * time.Second

// pageSize is that of new files, in bytes; older files keep theirs. An image takes
// whole pages but for its beginning: 6,000 tiles of 5 to 37 kB weigh 1.06 of their
// images, with pages of 16 kB 1.19 and of 4 kB 1.04, which take a tenth more processor
// time to keep.
const pageSize = 8192

// file is one SQLite file of the store, opened when it is first needed.
type file struct {
	path     string
	kind     int32    // the application id in its header, at byte 68
	schema   string   // of an empty file
	upgrades []string // bring version i+1 to version i+2
	pragmas  []string

	mu     sync.Mutex // guards db and closed
	db     *sql.DB
	closed bool

	writing sync.Mutex // one write at a time here; the database sees to other processes
}

func (f *file) version() int { return len(f.upgrades) + 1 }

// handle gives the open database; nil when the file is missing and create is
// false.
func (f *file) handle(ctx context.Context, create bool) (*sql.DB, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.closed {
		return nil, store.ErrClosed
	}
	if f.db != nil {
		return f.db, nil
	}
	if !create {
		if _, err := os.Stat(f.path); missing(err) {
			return nil, nil
		} else if err != nil {
			return nil, f.fault("cannot open", err)
		}
	}
	db := f.connect()
	if err := f.prepare(ctx, db); err != nil {
		db.Close()
		return nil, err
	}
	f.db = db
	return db, nil
}

func (f *file) connect() *sql.DB {
	var forNew []string
	if fileSize(f.path) == 0 { // asked of a file with tables, the second would write its header
		forNew = []string{
			fmt.Sprintf("page_size=%d", pageSize),
			"auto_vacuum=INCREMENTAL", // what is pruned can be given back to the disk in steps
		}
	}
	db := sqlite.Open(f.path, sqlite.Options{
		Settings: fmt.Sprintf("mode=rwc&_busy_timeout=%d&_txlock=immediate", busyWait.Milliseconds()),
		Pragmas: slices.Concat(forNew, []string{
			"journal_mode=PERSIST",       // also takes a file of an earlier version out of its write-ahead log
			"journal_size_limit=2000000", // what a long transaction needed is given back
			"synchronous=FULL",
			"trusted_schema=OFF",
			"cell_size_check=ON",
			"cache_spill=OFF",  // a batch must not lock readers out before it is committed
			"cache_size=-8000", // kB: the pages of a batch
		}, f.pragmas),
	})
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(4)
	return db
}

func (f *file) close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closed = true
	if f.db == nil {
		return nil
	}
	return f.fault("cannot close", f.db.Close())
}

// prepare makes sure the file is one of this kind and version, and makes its
// tables when it is empty.
func (f *file) prepare(ctx context.Context, db *sql.DB) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return f.fault("cannot open", err)
	}
	defer conn.Close() //nolint:errcheck // only gives it back to the pool
	version, err := f.identify(ctx, conn)
	if err != nil {
		return err
	}
	if version != f.version() {
		return f.create(ctx, conn)
	}
	return nil
}

// identify gives the version of the tables; 0 means an empty file.
func (f *file) identify(ctx context.Context, conn *sql.Conn) (version int, err error) {
	var app int32
	var tables int
	err = conn.QueryRowContext(ctx, `SELECT a.application_id, v.user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id a, pragma_user_version v`).Scan(&app, &version, &tables)
	switch {
	case err != nil:
		return 0, f.fault("cannot open", err)
	case app == f.kind && version >= 1 && version <= f.version():
		return version, nil
	case app == f.kind && version > f.version():
		return 0, store.NewerFormat(f.path, version, f.version())
	case app == 0 && version == 0 && tables == 0:
		return 0, nil
	}
	return 0, &fault.Fault{
		Kind: store.Foreign, Place: f.path, Remedy: "move it out of the store folder",
		Detail: fmt.Sprintf("it is a database of another program (application id %#x, version %d)", uint32(app), version),
	}
}

// create makes the tables, or brings older ones up to date, in one transaction,
// so that a killed process leaves the file as it was or whole. Another process may have been first.
func (f *file) create(ctx context.Context, conn *sql.Conn) error {
	if _, err := conn.ExecContext(ctx, "BEGIN EXCLUSIVE"); err != nil {
		return f.fault("cannot create", err)
	}
	version, err := f.identify(ctx, conn)
	steps := f.schema
	if version > 0 {
		steps = strings.Join(f.upgrades[version-1:], ";") + ";"
	}
	if err == nil && version != f.version() {
		_, err = conn.ExecContext(ctx, steps+fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;",
			f.kind, f.version()))
	}
	end := "COMMIT"
	if err != nil {
		end = "ROLLBACK"
	}
	if _, endErr := conn.ExecContext(context.WithoutCancel(ctx), end); err == nil {
		err = endErr
	}
	return f.fault("cannot create", err)
}

// write runs a transaction; it is rolled back when do fails.
func (f *file) write(ctx context.Context, do func(*sql.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	db, err := f.handle(ctx, true)
	if err != nil {
		return err
	}
	f.writing.Lock()
	defer f.writing.Unlock()
	// Half a batch helps nobody: once begun it is short and runs to its end.
	tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		return f.fault("cannot write", err)
	}
	if err := do(tx); err != nil {
		_ = tx.Rollback() // the first error is the one to tell
		return f.fault("cannot write", err)
	}
	if err := tx.Commit(); err != nil {
		_ = tx.Rollback() // a commit that met a reader leaves the transaction open
		return f.fault("cannot write", err)
	}
	return nil
}

// shelfKind is "GSST", the application id of a shelf's file.
const shelfKind = 0x47535354

// schema keeps what a plan asks for (everything but the image) together in
// tile order, so that walking a cover never touches image pages. A tile with
// no image is a hole. Equal images are found by the first bytes of their hash:
// an index of whole hashes, whose pages are all touched by every batch, costs a
// tenth of the speed of fetching. Files of before have one. Times are microseconds since 1970, UTC.
const schema = `
CREATE TABLE images (
	id   INTEGER PRIMARY KEY,
	hash BLOB NOT NULL,
	data BLOB NOT NULL
);
CREATE INDEX images_start ON images(substr(hash, 1, 8));
CREATE TABLE tiles (
	z INTEGER NOT NULL, y INTEGER NOT NULL, x INTEGER NOT NULL,
	image INTEGER REFERENCES images(id),
	hash BLOB, bytes INTEGER NOT NULL, media TEXT NOT NULL,
	source TEXT NOT NULL, fetched INTEGER NOT NULL, fresh_until INTEGER NOT NULL,
	etag TEXT NOT NULL, last_modified TEXT NOT NULL,
	no_transform INTEGER NOT NULL, -- the source forbids changing the image
	immutable INTEGER NOT NULL,    -- it does not change while fresh
	usable_until INTEGER NOT NULL, -- stale, it may stand in until then; 0 = no
	PRIMARY KEY (z, y, x)
) WITHOUT ROWID;
CREATE INDEX tiles_image ON tiles(image) WHERE image IS NOT NULL;
` + runs + ";" + spent + ";" + pace + ";"

// runs is how fast the source answered, one row a run of fetching.
const runs = `CREATE TABLE runs (ended INTEGER NOT NULL, requests INTEGER NOT NULL, micros INTEGER NOT NULL)`

// spent is what was taken of each day's budget.
const spent = `CREATE TABLE spent (day TEXT PRIMARY KEY, requests INTEGER NOT NULL)`

// pace is what the last run left to the next. While a run has the lease there
// is no row: one that ended without handing over leaves none.
const pace = `CREATE TABLE pace (one INTEGER PRIMARY KEY CHECK (one = 1), state TEXT NOT NULL)`

// shelfFile is the file of a shelf, not yet opened.
func shelfFile(path string, limits []string) *file {
	return &file{path: path, kind: shelfKind, schema: schema, pragmas: limits, upgrades: []string{
		`ALTER TABLE tiles ADD COLUMN no_transform INTEGER NOT NULL DEFAULT 0`,
		runs,
		`ALTER TABLE tiles ADD COLUMN immutable INTEGER NOT NULL DEFAULT 0;
		 ALTER TABLE tiles ADD COLUMN usable_until INTEGER NOT NULL DEFAULT 0;` + spent + ";" + pace,
		``, // images_start, in new files alone: an earlier program would not find equal images by it
	}}
}
