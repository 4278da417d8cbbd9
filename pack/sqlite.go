package pack

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"syscall"

	"github.com/mattn/go-sqlite3"
)

// applicationID marks the file as an MBTiles tileset: "MPBX" (SQLite's
// magic.txt). Written always, never demanded.
const applicationID = 0x4d504258

// connector opens every connection of a pack with the same pragmas, which a
// DSN cannot carry all of.
type connector struct {
	dsn     string
	pragmas []string
}

func (c connector) Driver() driver.Driver { return &sqlite3.SQLiteDriver{} }

func (c connector) Connect(context.Context) (driver.Conn, error) {
	conn, err := (&sqlite3.SQLiteDriver{}).Open(c.dsn)
	if err != nil {
		return nil, err
	}
	for _, p := range c.pragmas {
		if _, err := conn.(*sqlite3.SQLiteConn).Exec("PRAGMA "+p, nil); err != nil {
			return nil, errors.Join(fmt.Errorf("PRAGMA %s: %w", p, err), conn.Close())
		}
	}
	return conn, nil
}

// openRead opens a finished pack as an untrusted file: read-only, no locks, no
// functions or triggers from its schema (SQLite, "Defense Against The Dark
// Arts", 1.2).
func openRead(path string) *sql.DB {
	return sql.OpenDB(connector{
		dsn:     fileURI(path, "mode=ro&immutable=1"),
		pragmas: []string{"trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0", "query_only=ON"},
	})
}

// openWrite makes a new file for one writing pass. It is not journalled: the
// file has no name a reader looks for until it is complete and synced.
func openWrite(path string) *sql.DB {
	db := sql.OpenDB(connector{
		dsn:     fileURI(path, "mode=rwc"),
		pragmas: []string{"page_size=4096", fmt.Sprintf("application_id=%d", applicationID), "journal_mode=OFF", "synchronous=OFF", "locking_mode=EXCLUSIVE"},
	})
	db.SetMaxOpenConns(1)
	return db
}

// fileURI needs the file: form, or SQLite takes the options for a name.
func fileURI(path, options string) string {
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(), RawQuery: options}
	return u.String()
}

// isFull reports whether an error means that the disk has no room.
func isFull(err error) bool {
	var e sqlite3.Error
	if errors.As(err, &e) && e.Code == sqlite3.ErrFull {
		return true
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG)
}
