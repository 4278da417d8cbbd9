package folder

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// suffix is that of a shelf's file; the register has another one, so no shelf
// can take its place.
const suffix = ".sqlite"

// Store is a folder of shelves. It is safe for use by several goroutines.
type Store struct {
	dir    string
	limits []string // pragmas added to every connection; tests set a quota

	mu      sync.Mutex
	shelves map[string]*Shelf
	jobs    *file
	closed  bool
}

// Open opens the store in a folder and makes the folder when it is missing.
func Open(dir string) (*Store, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("store folder %s: %w", dir, err)
	}
	if err := os.MkdirAll(abs, 0o755); err != nil {
		return nil, folderFault(abs, err)
	}
	return &Store{dir: abs, shelves: map[string]*Shelf{}, jobs: registerFile(abs)}, nil
}

func folderFault(dir string, err error) error {
	if sqlite.Sort(err) == sqlite.NoRoom {
		return store.FullDisk(dir, err)
	}
	return fmt.Errorf("cannot make the store folder %s: %w; choose a folder you may write to", dir, plainPathError(err))
}

// plainPathError drops the path that the message already gives.
func plainPathError(err error) error {
	if pe, ok := errors.AsType[*os.PathError](err); ok {
		return pe.Err
	}
	return err
}

// Where is the folder.
func (s *Store) Where() string { return s.dir }

// Shelf implements [store.Store].
func (s *Store) Shelf(name string) (store.Shelf, error) { return s.shelf(name) }

func (s *Store) shelf(name string) (*Shelf, error) {
	if !store.GoodName(name) {
		return nil, fmt.Errorf("shelf %q: a name is letters, digits and dashes", name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	if shelf, ok := s.shelves[name]; ok {
		return shelf, nil
	}
	shelf := &Shelf{name: name, file: shelfFile(filepath.Join(s.dir, name+suffix), s.limits)}
	s.shelves[name] = shelf
	return shelf, nil
}

// Shelves implements [store.Store].
func (s *Store) Shelves(ctx context.Context) ([]string, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, fmt.Errorf("cannot read the store folder: %w", err)
	}
	var names []string
	for _, e := range entries {
		name, is := strings.CutSuffix(e.Name(), suffix)
		if is && store.GoodName(name) && e.Type().IsRegular() {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, nil
}

// Close implements [store.Store].
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	errs := []error{s.jobs.close()}
	for _, shelf := range s.shelves {
		errs = append(errs, shelf.close())
	}
	return errors.Join(errs...)
}

// registerFile is the file of the jobs that were packed from the store.
func registerFile(dir string) *file {
	return &file{path: filepath.Join(dir, "jobs.register"), kind: 0x47534a52, upgrades: []string{kept}, schema: `
CREATE TABLE jobs (
	key TEXT NOT NULL, base INTEGER NOT NULL, name TEXT NOT NULL, number TEXT NOT NULL,
	shelf TEXT NOT NULL, pack TEXT NOT NULL, covers BLOB NOT NULL,
	packed INTEGER NOT NULL, closed INTEGER NOT NULL, -- microseconds since 1970, UTC; 0 = open
	PRIMARY KEY (key, base)
);` + kept + ";"}
}

// kept is which jobs are to be kept until a day. A program that does not know of it
// would prune them, so it refuses the file.
const kept = `CREATE TABLE kept (key TEXT PRIMARY KEY, until TEXT NOT NULL, reason TEXT NOT NULL)`

// Jobs implements [store.Store].
func (s *Store) Jobs(ctx context.Context) ([]store.PackedJob, error) {
	return rowsOf(ctx, s.jobs, func(rows *sql.Rows) (store.PackedJob, error) { return scanJob(rows, s.jobs.path) },
		jobRows+`ORDER BY key, base`)
}

const jobRows = `SELECT jobs.*, coalesce(until, ''), coalesce(reason, '') FROM jobs LEFT JOIN kept USING (key) `

func scanJob(rows *sql.Rows, path string) (j store.PackedJob, err error) {
	var packed, closed int64
	var covers []byte
	err = rows.Scan(&j.Key, &j.Base, &j.Name, &j.Number, &j.Shelf, &j.Pack, &covers, &packed, &closed,
		&j.Keep.Until, &j.Keep.Reason)
	if err != nil {
		return j, err
	}
	j.Packed, j.Closed = store.Moment(packed), store.Moment(closed)
	if j.Covers, err = store.ReadCovers(covers); err != nil {
		return j, store.Damage(path, err)
	}
	return j, nil
}

// RegisterSound has the engine look at the register of jobs, as
// [store.Maintenance] does at a shelf.
func (s *Store) RegisterSound(ctx context.Context) ([]string, error) {
	flaws, err := s.jobs.sound(ctx)
	if err != nil || len(flaws) > 0 {
		return flaws, err
	}
	_, err = s.Jobs(ctx)
	return nil, err
}

// NoteJob implements [store.Store].
func (s *Store) NoteJob(ctx context.Context, j store.PackedJob) error {
	covers, err := store.CoversText(j.Covers)
	if err != nil {
		return err
	}
	return s.jobs.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT OR REPLACE INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			j.Key, j.Base, j.Name, j.Number, j.Shelf, j.Pack, covers, store.Micros(j.Packed), store.Micros(j.Closed))
		return err
	})
}

// CloseJob implements [store.Store].
func (s *Store) CloseJob(ctx context.Context, key string, at time.Time) (bool, error) {
	return s.changeJob(ctx, `UPDATE jobs SET closed = ?2 WHERE key = ?1`, key, store.Micros(at))
}

// KeepJob implements [store.Store].
func (s *Store) KeepJob(ctx context.Context, key string, k store.Keeping) (bool, error) {
	if k == (store.Keeping{}) {
		return s.changeJob(ctx, `DELETE FROM kept WHERE key = ?1`, key)
	}
	return s.changeJob(ctx, `INSERT OR REPLACE INTO kept VALUES (?1, ?2, ?3)`, key, k.Until, k.Reason)
}

// changeJob makes a change of a job; false when no job has the key.
func (s *Store) changeJob(ctx context.Context, change, key string, values ...any) (known bool, err error) {
	if db, err := s.jobs.handle(ctx, false); err != nil || db == nil {
		return false, err
	}
	err = s.jobs.write(ctx, func(tx *sql.Tx) error {
		if err := tx.QueryRow(`SELECT EXISTS (SELECT 1 FROM jobs WHERE key = ?)`, key).Scan(&known); err != nil || !known {
			return err
		}
		_, err := tx.Exec(change, append([]any{key}, values...)...)
		return err
	})
	return known, err
}
