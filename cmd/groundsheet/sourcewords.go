package main

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// keeping puts the caching headers into words (RFC 9111, 8246, 5861).
func keeping(l discover.Look) (lines []string) {
	if l.Status != http.StatusOK {
		return nil
	}
	h := l.Header
	r := httpcache.Response{Status: l.Status, Header: h, Control: httpcache.ParseDirectives(h), Requested: l.Requested, Received: l.Received}
	fresh := r.Freshness()
	line := "fresh for " + measure.Duration(fresh)
	if fresh <= 0 {
		line = "stale at once by its headers: keep_at_least of the terms decides"
	}
	var by []string
	for _, name := range []string{"ETag", "Last-Modified"} {
		if r.Validator(name) != "" {
			by = append(by, name)
		}
	}
	if len(by) == 0 {
		line += "; it has no ETag or Last-Modified, so a refresh fetches it whole again"
	} else {
		line += "; then confirmed by " + strings.Join(by, " and ") + " without sending it again"
	}
	lines = append(lines, line)
	meaning := []struct{ name, words string }{
		{"no-store", "no-store: the source forbids keeping it; only a written permission of the provider changes that"},
		{"private", "private: meant for one reader alone; kept only with a permission of the provider"},
		{"no-transform", "no-transform: the picture may not be changed, so it cannot be made smaller or cut out of a larger one"},
		{"must-revalidate", "must-revalidate: not used stale when the source cannot be reached"},
		{"no-cache", "no-cache: to be confirmed each time by its headers"},
		{"immutable", "immutable: it never changes while it is fresh"},
		{"stale-if-error", "stale-if-error: it may stand in for a while when the source fails"},
	}
	forbids := map[string]bool{"no-store": r.NoStore(), "private": r.Control.Private()} // both have exceptions
	for _, m := range meaning {
		says, special := forbids[m.name]
		if says || !special && r.Control.Has(m.name) {
			lines = append(lines, m.words)
		}
	}
	if v := h.Get("Vary"); v != "" {
		lines = append(lines, "Vary: "+printable(v)+": the answer depends on these headers of the request, which are always the same here")
	}
	return lines
}

// clockOf compares the source's clock with this computer's.
func clockOf(l discover.Look) string {
	date, err := http.ParseTime(l.Header.Get("Date"))
	if err != nil {
		return "the source sends no date"
	}
	if l.Header.Get("Age") != "" {
		return "" // the date is that of a copy on the way
	}
	off := date.Sub(l.Received).Round(time.Second)
	switch {
	case off.Abs() <= 2*time.Second: // Date has whole seconds
		return "the same as this computer's, to within 2 s"
	case off > 0:
		return fmt.Sprintf("the source is %s ahead of this computer", measure.Duration(off))
	}
	return fmt.Sprintf("the source is %s behind this computer", measure.Duration(-off))
}

// oddities are what an operator should know before fetching thousands.
func oddities(s source.Source, l discover.Look) (lines []string) {
	add := func(is bool, format string, args ...any) {
		if is {
			lines = append(lines, fmt.Sprintf(format, args...))
		}
	}
	kind, _, _ := strings.Cut(strings.ToLower(l.Header.Get("Content-Type")), ";")
	add(l.Status == 404 || l.Status == 204 || l.Status == 410, "the source has no tile there")
	add(l.Status != 200 && l.Status != 404 && l.Status != 204 && l.Status != 410, "the answer is %d, not 200", l.Status)
	add(l.Flaw == nil && kind != l.Picture.Kind.MediaType(), "the header says %s, and the content is %s", quoteOrNothing(kind), l.Picture.Kind.MediaType())
	add(l.Flaw == nil && (l.Picture.Width != s.TileSize || l.Picture.Height != s.TileSize), "the picture has %d×%d pixels, and tile_size is %d: correct it in sources.toml", l.Picture.Width, l.Picture.Height, s.TileSize)
	add(strings.HasPrefix(l.Address, "http://") && !s.Local() && s.Kind != source.KindPractice, "http without encryption: others on the way can see and change what comes")
	add(l.Header.Get("Set-Cookie") != "", "it sets a cookie; none is kept")
	add(l.Header.Get("Content-Encoding") != "" && l.Header.Get("Content-Encoding") != "identity", "it is packed (%s) although that was not asked for", printable(l.Header.Get("Content-Encoding")))
	if l.Flaw == nil && l.Status == 200 {
		add(pack.Flat(l.Data), "the picture is of one color: perhaps there is no imagery here; if this image stands for that, add placeholders = [\"%x\"] to the source", sha256.Sum256(l.Data))
		add(s.Placeholder(sha256.Sum256(l.Data)), "it is the image that stands for \"no imagery here\"")
	}
	return lines
}

func quoteOrNothing(text string) string {
	if text == "" {
		return "nothing"
	}
	return printable(text)
}

// printable is a header's text for the screen.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, text[:min(len(text), 200)])
}
