package folder

import (
	"context"
	"os"
	"testing"

	"groundsheet/tiles"
)

func TestUnwrittenShelfMakesNoFile(t *testing.T) {
	dir := t.TempDir()
	_, s := open(t, dir)
	if _, ok, err := s.Get(context.Background(), tiles.ID{}); ok || err != nil {
		t.Errorf("held %v, %v", ok, err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 0 {
		t.Errorf("reading made %v", files)
	}
}

func TestPragmas(t *testing.T) {
	_, s := open(t, t.TempDir())
	keep(t, s, hole(0, 0, 0))
	for pragma, want := range map[string]string{"journal_mode": "persist", "journal_size_limit": "2000000", "synchronous": "2", "page_size": "8192", "auto_vacuum": "2", "user_version": "5", "busy_timeout": "10000"} {
		var got string
		if err := s.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %q, %v, want %q", pragma, got, err, want)
		}
	}
}
