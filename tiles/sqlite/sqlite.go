// Package sqlite opens SQLite files the way the office store and packs need
// them: by a path with any characters in it, with the same pragmas on every
// connection, and with errors sorted by what a user can do about them.
package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/mattn/go-sqlite3"
)

// Options of a database. Settings are the driver's and SQLite's URI options,
// such as "mode=ro&immutable=1"; Pragmas are run on every connection, which a
// DSN cannot do for all of them.
type Options struct {
	Settings string
	Pragmas  []string
	Longest  int // bytes that a text or blob may have; 0 = SQLite's own limit

	// Confirm is asked after each opening of the file by its name; its error
	// closes the file again. nil = not asked.
	Confirm func() error
}

// Open gives a database handle; the file is opened on first use.
func Open(path string, o Options) *sql.DB { return sql.OpenDB(connect(path, o)) }

func connect(path string, o Options) connector {
	hook := func(c *sqlite3.SQLiteConn) error {
		if o.Confirm != nil {
			if err := o.Confirm(); err != nil {
				return err
			}
		}
		if o.Longest > 0 {
			c.SetLimit(sqlite3.SQLITE_LIMIT_LENGTH, o.Longest)
		}
		for _, p := range o.Pragmas {
			if _, err := c.Exec("PRAGMA "+p, nil); err != nil {
				return fmt.Errorf("PRAGMA %s: %w", p, err)
			}
		}
		return nil
	}
	return connector{&sqlite3.SQLiteDriver{ConnectHook: hook}, URI(path) + "?" + fileSystem + o.Settings}
}

// Untrusted says how a finished file from anywhere is opened.
type Untrusted struct {
	Longest int          // as in [Options]
	Confirm func() error // as in [Options]
}

func (u Untrusted) options() Options {
	return Options{
		Settings: "mode=ro&immutable=1",
		Pragmas:  []string{"trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0", "query_only=ON"},
		Longest:  u.Longest, Confirm: u.Confirm,
	}
}

// OpenUntrusted opens a finished file from anywhere, such as an MBTiles file:
// read-only, no locks, no functions or triggers from its schema (SQLite,
// "Defense Against The Dark Arts", 1.2).
func OpenUntrusted(path string, u Untrusted) *sql.DB { return Open(path, u.options()) }

// Hold opens n connections at once and keeps to them, so that the file is never
// opened by its name again.
func Hold(ctx context.Context, db *sql.DB, n int) error {
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	for range n {
		c, err := db.Conn(ctx)
		if err != nil {
			return err
		}
		defer c.Close() //nolint:errcheck // it only goes back to the others
	}
	return nil
}

// mostPairs bounds what a hostile table may make Pairs read.
const mostPairs = 100

// Pairs reads names and values, such as the metadata of an MBTiles file: the
// first 100 rows, nothing for what is NULL.
func Pairs(ctx context.Context, db *sql.DB, table string) (map[string]string, error) {
	rows, err := db.QueryContext(ctx, fmt.Sprintf(`SELECT name, value FROM %s LIMIT %d`, table, mostPairs))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[string]string{}
	for rows.Next() {
		var name, value sql.NullString
		if err := rows.Scan(&name, &value); err != nil {
			return nil, err
		}
		all[name.String] = value.String
	}
	return all, rows.Err()
}

// connector is used directly, so that no driver has to be registered under a
// global name.
type connector struct {
	drv *sqlite3.SQLiteDriver
	dsn string
}

func (c connector) Connect(context.Context) (driver.Conn, error) {
	if err := prepare(); err != nil {
		return nil, err
	}
	return c.drv.Open(c.dsn)
}

func (c connector) Driver() driver.Driver { return c.drv }

// URI is the "file:" form of a path: a bare path would lose its options, and
// "?", "#" and "%" in it must be escaped.
func URI(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	p := filepath.ToSlash(path)
	if len(path) > longestPath {
		p = "/" + `\\?\` + path
	}
	if !strings.HasPrefix(p, "/") {
		p = "/" + p // a drive letter
	}
	return (&url.URL{Scheme: "file", Path: p}).String()
}

// Trouble is what an error of a database means for its user.
type Trouble int

// The kinds of trouble.
const (
	Other   Trouble = iota
	NoRoom          // the disk takes no more
	Damaged         // not a database, or a broken one
	Busy            // another process has been writing for too long
	Denied          // the file or its folder may not be used so
	TooLong         // a value is longer than Options.Longest
	TooSlow         // a statement did not end in time
)

// Sort tells what an error means.
func Sort(err error) Trouble {
	if errors.Is(err, ErrTooSlow) {
		return TooSlow
	}
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG) {
		return NoRoom
	}
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return Other
	}
	switch e.ExtendedCode {
	case sqlite3.ErrIoErrWrite, sqlite3.ErrIoErrFsync, sqlite3.ErrIoErrDirFsync, sqlite3.ErrIoErrTruncate,
		sqlite3.ErrIoErrSHMSize, sqlite3.ErrIoErrSHMMap:
		return NoRoom
	}
	if e.SystemErrno == syscall.ENOSPC || e.SystemErrno == syscall.EDQUOT {
		return NoRoom
	}
	switch e.Code {
	case sqlite3.ErrFull:
		return NoRoom
	case sqlite3.ErrNotADB, sqlite3.ErrCorrupt:
		return Damaged
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return Busy
	case sqlite3.ErrCantOpen, sqlite3.ErrReadonly, sqlite3.ErrPerm:
		return Denied
	case sqlite3.ErrTooBig:
		return TooLong
	}
	return Other
}
