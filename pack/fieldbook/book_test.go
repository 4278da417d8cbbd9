package fieldbook

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAppend(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a b?.fieldbook")
	b := opened(t, path, Options{})
	if r := appended(t, b, reading("bad").with("layout", 2)); r[0].Refused == "" || r[0].ID != idOf("bad") {
		t.Errorf("%+v", r)
	}
	if _, err := os.Stat(path); err == nil {
		t.Fatal("the book was made without an entry")
	}
	one := reading("one")
	first := appended(t, b, one, reading("bad").with("action", "remove"), reading("two"))
	if first[0].Number != 1 || first[1].Refused == "" || first[2].Number != 2 || first[0].Refused != "" {
		t.Fatalf("%+v", first)
	}
	again := appended(t, b, reading("two"), one, one.with("who", "Eve"), reading("three"))
	if again[0] != first[2] || again[1] != first[0] || again[2].Refused == "" || again[3].Number != 3 {
		t.Errorf("sent again: %+v", again)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("beside the book: %v, %v", left, err)
	}
	b = opened(t, path, Options{})
	if n, err := b.Latest(t.Context()); n != 3 || err != nil {
		t.Errorf("%d, %v", n, err)
	}
	all, err := b.Entries(t.Context(), 1, 1)
	if err != nil || len(all) != 1 || !bytes.Equal(all[0].Text, reading("two").text(t)) || all[0].Before != first[0].Hash || all[0].Session != "s" {
		t.Errorf("%+v, %v", all, err)
	}
	if v := whole(t, b); v.Entries != 3 || v.Marks != 3 {
		t.Errorf("%+v", v)
	}
}

// TestOneWriter: a second server is told who writes, and may read.
func TestOneWriter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	first, second := opened(t, path, Options{}), opened(t, path, Options{})
	appended(t, first, reading("one"))
	if _, err := second.Append(t.Context(), Sender{}, [][]byte{reading("two").text(t)}); !errors.Is(err, Busy) || !strings.Contains(err.Error(), "groundsheet serve (") {
		t.Errorf("%v", err)
	}
	r, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if v := whole(t, r); v.Entries != 1 {
		t.Errorf("%+v", v)
	}
	if _, err := r.Append(t.Context(), Sender{}, [][]byte{reading("two").text(t)}); !errors.Is(err, ReadOnly) {
		t.Errorf("a book that is read was written: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	appended(t, second, reading("two"))
	if v := whole(t, r); v.Entries != 2 {
		t.Errorf("%+v", v)
	}
}

// TestFolderIsClosed: a folder that cannot be written is told before anybody marks.
func TestFolderIsClosed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none", "a.fieldbook")
	if _, err := Open(path, About{}, Options{}); !errors.Is(err, Denied) || !strings.Contains(err.Error(), "--fieldbook") {
		t.Errorf("%v", err)
	}
}

func TestOnlyGrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	b := opened(t, path, Options{})
	appended(t, b, reading("one"))
	for _, query := range []string{`UPDATE entry SET text = ''`, `DELETE FROM entry`, `DELETE FROM about`, `UPDATE about SET value = ''`} {
		if _, err := b.db.Exec(query); err == nil || !strings.Contains(err.Error(), "only grows") {
			t.Errorf("%s: %v", query, err)
		}
	}
}

func TestVerifyFindsChanges(t *testing.T) {
	for name, query := range map[string]string{
		"text":     `UPDATE entry SET text = replace(text, '1.02', '2.02') WHERE number = 2`,
		"received": `UPDATE entry SET received = '2031-05-06T12:00:00.001Z' WHERE number = 2`,
		"role":     `UPDATE entry SET role = 'look' WHERE number = 1`,
		"removed":  `DELETE FROM entry WHERE number = 2`,
		"about":    `UPDATE about SET value = 'other' WHERE key = 'name'`,
		"hash":     `UPDATE entry SET hash = before WHERE number = 3`,
		"mark":     `UPDATE entry SET mark = id || 'a' WHERE number = 3`,
	} {
		path := filepath.Join(t.TempDir(), "a.fieldbook")
		b := opened(t, path, Options{})
		appended(t, b, reading("one"), reading("two"), reading("three"))
		for _, trigger := range []string{"entry_changed", "entry_removed", "about_changed"} {
			if _, err := b.db.Exec("DROP TRIGGER " + trigger); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := b.db.Exec(query); err != nil {
			t.Fatal(err)
		}
		if v, err := b.Verify(t.Context()); err != nil || v.Whole() {
			t.Errorf("%s: %v, %v", name, v, err)
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, About{}, Options{}); !errors.Is(err, NotBook) {
			t.Errorf("%s: a book without its triggers was opened: %v", name, err)
		}
	}
}
