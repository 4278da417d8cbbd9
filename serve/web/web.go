// Package web embeds the map page that phones open on site. The page is TypeScript;
// `npm run build` builds it into dist/, which is never committed.
package web

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
)

// dist always contains .keep, so that the package compiles before the first build.
//
//go:embed all:dist
var dist embed.FS

// ErrNotBuilt means that this program was compiled without the page.
var ErrNotBuilt = errors.New("the map page is not in this program; build it: go run ./cmd/dev build")

// Files returns the built page: index.html, app.js and shared.js, app.css, marking.js and
// marking.css (recording on site, loaded later), events.js (the shared worker), sw.js (the service worker), licences.txt (the licenses of the libraries in
// app.js), the join page: join.html, join.js and join.css, and what both have: guard.js
// (tells that a browser is too old), icon.svg and the icons of home screens. Without a
// build the error is [ErrNotBuilt].
func Files() (fs.FS, error) { return built(dist) }

// Desk returns the built page of the desk: index.html, desk.js, desk.css, guard.js, icon.svg
// and licences.txt. Without a build the error is [ErrNotBuilt].
func Desk() (fs.FS, error) {
	return complete(dist, "dist/desk", "index.html", "desk.js", "desk.css", "guard.js")
}

func built(all fs.FS) (fs.FS, error) {
	return complete(all, "dist", "index.html", "app.js", "shared.js", "app.css", "marking.js", "marking.css", "join.html", "join.js", "join.css", "guard.js")
}

func complete(all fs.FS, folder string, names ...string) (fs.FS, error) {
	page, err := fs.Sub(all, folder)
	if err != nil {
		return nil, fmt.Errorf("the page: %w", err)
	}
	for _, name := range names {
		if info, err := fs.Stat(page, name); err != nil || info.Size() == 0 {
			return nil, fmt.Errorf("%s is missing: %w", name, ErrNotBuilt)
		}
	}
	return page, nil
}
