package check_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"groundsheet/pack/check"
	"groundsheet/tiles/sqlite"
)

func ExampleRun() {
	dir, err := os.MkdirTemp("", "check")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "other.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	_, err = db.Exec(`CREATE TABLE metadata (name text, value text);
		CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
		INSERT INTO metadata VALUES ('format', 'png'), ('minzoom', '2'), ('maxzoom', '2');
		INSERT INTO tiles VALUES (2, 1, 3, x'89504e47')`)
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := db.Close(); err != nil {
		fmt.Println(err)
		return
	}
	report, err := check.Run(context.Background(), path, check.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(report.Verdict, report.Faults, report.Deep)
	for _, f := range report.Findings {
		fmt.Println(f.Kind)
	}
	// Output:
	// not fit 2 true
	// not a site pack
	// unreadable
}
