package web

import (
	"errors"
	"io/fs"
	"os"
	"testing"
	"testing/fstest"
)

func folder(names ...string) fstest.MapFS {
	m := fstest.MapFS{"dist/.keep": {}}
	for _, n := range names {
		m["dist/"+n] = &fstest.MapFile{Data: []byte("x")}
	}
	return m
}

func TestBuilt(t *testing.T) {
	joining := []string{"join.html", "join.js", "join.css"}
	empty := folder(append(joining, "index.html", "app.css")...)
	empty["dist/app.js"] = &fstest.MapFile{}
	for _, c := range []struct {
		name string
		in   fs.FS
		want error
	}{
		{"before the first build", folder(), ErrNotBuilt},
		{"after a build", folder(append(joining, "index.html", "app.js", "shared.js", "app.css", "marking.js", "marking.css", "guard.js")...), nil},
		{"half a build", folder(append(joining, "index.html", "app.css")...), ErrNotBuilt},
		{"nothing to record with", folder(append(joining, "index.html", "app.js", "shared.js", "app.css", "guard.js")...), ErrNotBuilt},
		{"no page to join", folder("index.html", "app.js", "app.css"), ErrNotBuilt},
		{"an empty script", empty, ErrNotBuilt},
	} {
		t.Run(c.name, func(t *testing.T) {
			page, err := built(c.in)
			if !errors.Is(err, c.want) {
				t.Fatalf("error %v, want %v", err, c.want)
			}
			if c.want != nil {
				return
			}
			if b, err := fs.ReadFile(page, "index.html"); err != nil || string(b) != "x" {
				t.Errorf("index.html: %q, %v", b, err)
			}
		})
	}
}

// What Files says must agree with the folder beside the source.
func TestFilesAgreesWithFolder(t *testing.T) {
	_, err := Files()
	if _, statErr := os.Stat("dist/index.html"); statErr == nil {
		if err != nil {
			t.Errorf("dist holds a page, but Files says: %v", err)
		}
	} else if !errors.Is(err, ErrNotBuilt) {
		t.Errorf("dist holds no page, but Files says: %v", err)
	}
}
