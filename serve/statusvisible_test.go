package serve

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/words"
)

// TestStatusPageShowsLetters: a file name cannot turn the words of the page
// round or hide in them.
func TestStatusPageShowsLetters(t *testing.T) {
	from := makePack(t, "Site one")
	path := filepath.Join(filepath.Dir(from), "a\u202elive\u009b.mbtiles")
	if err := os.Rename(from, path); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got := pageOf(t, s)
	if got != words.EscapeControls(got) || !strings.Contains(got, "a[U+202E]live[U+009B].mbtiles") {
		t.Errorf("%q", got)
	}
}
