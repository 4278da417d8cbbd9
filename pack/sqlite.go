package pack

import (
	"database/sql"
	"fmt"

	"groundsheet/tiles/sqlite"
)

// applicationID marks the file as an MBTiles tileset: "MPBX" (SQLite's
// magic.txt). Written always, never demanded.
const applicationID = 0x4d504258

// How long a document or an overlay in a pack may be, and a tile, in bytes: a
// hostile file must not fill the memory. A tile of 1024 pixels without any
// compression takes 4 MB, 8 MB with 16 bits a colour.
const (
	longest     = 64 << 20
	longestTile = 16 << 20
)

// openWrite makes a new file for one writing pass. It is not journalled: the
// file has no name a reader looks for until it is complete and synced.
func openWrite(path string) *sql.DB {
	db := sqlite.Open(path, sqlite.Options{
		Settings: "mode=rwc",
		Pragmas:  []string{"page_size=4096", fmt.Sprintf("application_id=%d", applicationID), "journal_mode=OFF", "synchronous=OFF", "locking_mode=EXCLUSIVE"},
		Longest:  longest,
	})
	db.SetMaxOpenConns(1)
	return db
}
