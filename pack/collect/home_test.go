package collect_test

import (
	"os"
	"path/filepath"
	"testing"

	"groundsheet/pack/collect"
)

// How far books had come home, as a pack says it; of a book that cannot be read nothing is said.
func TestHome(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	add(t, book, reading("a", 0, 1, nil), reading("b", 1, 2, properties{"kind": "nothing found", "depth_m": nil, "quality_level": nil}))
	if home := collect.Home(t.Context(), dir); len(home) != 0 {
		t.Error(home)
	}
	kept := run(t, dir, book).Books[0]
	home := collect.Home(t.Context(), dir)
	if len(home) != 1 || home[0].Entries != 2 || home[0].Hash != kept.Last || len(home[0].Book) != 32 {
		t.Errorf("%+v, want the last hash %s", home, kept.Last)
	}
	if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(kept.Kept)), []byte("no book"), 0o644); err != nil {
		t.Fatal(err)
	}
	if home := collect.Home(t.Context(), dir); len(home) != 0 {
		t.Error(home)
	}
}
