package pack

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"html"
	"io"
	"os"
	"regexp"
	"strings"

	"groundsheet/tiles/sqlite"
)

const sqliteMagic = "SQLite format 3\x00"

// checkHeader proves from the first 100 bytes and the file's length that it is
// a SQLite database of its full length (SQLite, "Database File Format", 1.3).
// It gives the file that it looked at.
func checkHeader(path string) (os.FileInfo, error) {
	info, err := os.Stat(path) // before opening: a pipe would wait for ever
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, notPack(path, "there is no such file",
			"check the name; groundsheet pack writes packs into the job's out folder")
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, notPack(path, "is a folder", "name the .mbtiles file in it")
	case !info.Mode().IsRegular():
		return nil, notPack(path, "is no ordinary file", "name an .mbtiles file")
	}
	// immutable=1 would not see what has not been written back yet.
	for _, beside := range []string{"-wal", "-journal"} {
		if left, err := os.Stat(path + beside); err == nil && left.Size() > 0 {
			return nil, notPack(path, "another program has not finished writing it ("+path+beside+" is there)",
				"close that program, or open and close the file in it")
		}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	header := make([]byte, 100)
	if _, err := io.ReadFull(f, header); err != nil || string(header[:16]) != sqliteMagic {
		return nil, notPack(path, "not a SQLite file, so not a pack",
			"name a pack that groundsheet pack wrote, or another MBTiles file")
	}
	pageSize := int64(binary.BigEndian.Uint16(header[16:]))
	if pageSize == 1 {
		pageSize = 65536
	}
	pages := int64(binary.BigEndian.Uint32(header[28:]))
	if want := pageSize * pages; info.Size() < want {
		return nil, notPack(path, fmt.Sprintf("cut short: %d of %d bytes are there", info.Size(), want),
			"copy it again, or pack the job again")
	}
	return info, nil
}

var tag = regexp.MustCompile(`<[^>]*>`)

// plainText takes the mark-up out of an attribution from a foreign file.
func plainText(s string) string {
	return strings.TrimSpace(html.UnescapeString(tag.ReplaceAllString(s, "")))
}

// applicationID marks the file as an MBTiles tileset: "MPBX" (SQLite's
// magic.txt). Written always, never demanded.
const applicationID = 0x4d504258

// How long a document or an overlay in a pack may be, and a tile, in bytes: a
// hostile file must not fill the memory. A tile of 1024 pixels without any
// compression takes 4 MB, 8 MB with 16 bits a color.
const (
	longest     = 64 << 20
	longestTile = 16 << 20
)

// openWrite makes a new file for one writing pass. It is not journalled: the
// file has no name a reader looks for until it is complete and synced.
func openWrite(path string) *sql.DB {
	db := sqlite.Open(path, sqlite.Options{
		Settings: "mode=rwc",
		Pragmas: []string{"page_size=4096", fmt.Sprintf("application_id=%d", applicationID), fmt.Sprintf("user_version=%d", layout), "journal_mode=OFF",
			"synchronous=OFF", "locking_mode=EXCLUSIVE"},
		Longest: longest,
	})
	db.SetMaxOpenConns(1)
	return db
}
