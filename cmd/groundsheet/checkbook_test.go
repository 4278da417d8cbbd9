package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/fieldbook"
)

// TestCheckBook: a whole book, a changed one, and what is no book.
func TestCheckBook(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "site.fieldbook")
	b, err := fieldbook.Open(path, fieldbook.About{Name: "Larkwater"}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	id := strings.Repeat("ab", 16)
	text := `{"layout":1,"id":"` + id + `","mark":"` + id + `","after":[],"action":"write","who":"Ada","phone":"` + id + `","clock":"2031-05-06T12:00:00Z",
		"feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"kind":"reading","utility":"gas"}}}`
	if _, err := b.Append(t.Context(), fieldbook.Sender{Role: "mark"}, [][]byte{[]byte(text)}); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	changed := filepath.Join(dir, "changed.fieldbook")
	if err := os.WriteFile(changed, []byte(strings.Replace(string(whole), `"who":"Ada"`, `"who":"Eve"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.fieldbook")
	if err := os.WriteFile(other, []byte("a letter"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		path string
		code int
		says string
	}{
		{path, 0, "whole — 1 mark, 0 struck, 0 photos; entries: 1"}, {changed, 1, "FAULT   entry 1 is not what it was when it came"},
		{other, 3, "cannot be read"}, {filepath.Join(dir, "none.fieldbook"), 2, "cannot be read"},
	} {
		out := &strings.Builder{}
		if code := (&app{out: out, err: out}).run(t.Context(), []string{"check", c.path}); code != c.code || !strings.Contains(out.String(), c.says) {
			t.Errorf("%s: %d, %s", c.path, code, out)
		}
	}
	out := &strings.Builder{}
	if code := (&app{out: out, err: out}).run(t.Context(), []string{"check", path, changed, "--json"}); code != 1 || !strings.Contains(out.String(), `"verdict":"broken"`) {
		t.Errorf("%d, %s", code, out)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 3 {
		t.Errorf("check leaves %v, %v", left, err)
	}
}
