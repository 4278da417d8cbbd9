package office

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// Told is what a tile that was asked for to see says of its source, in words.
type Told struct {
	Keeping []string `json:"keeping"` // what its headers say of keeping it
	Clock   string   `json:"clock"`   // the source's clock beside this computer's; "" = not known
	Odd     []string `json:"odd"`     // what an operator should know before fetching thousands
}

// TellProbe puts what came into words.
func TellProbe(s source.Source, p discover.Probe) Told {
	return Told{append([]string{}, cachingWords(p)...), clockWords(p), append([]string{}, oddities(s, p)...)}
}

// cachingWords puts the caching headers into words (RFC 9111, 8246, 5861).
func cachingWords(p discover.Probe) (lines []string) {
	if p.Status != http.StatusOK {
		return nil
	}
	fresh := p.Freshness()
	line := "fresh for " + measure.Duration(fresh)
	if fresh <= 0 {
		line = "stale at once by its headers: keep_at_least of the terms decides"
	}
	by := slices.DeleteFunc([]string{"ETag", "Last-Modified"}, func(name string) bool { return p.Validator(name) == "" })
	if len(by) == 0 {
		line += "; it has no ETag or Last-Modified, so a refresh fetches it whole again"
	} else {
		line += "; then confirmed by " + strings.Join(by, " and ") + " without sending it again"
	}
	lines = append(lines, line)
	for _, d := range []struct {
		says bool
		text string
	}{
		{p.NoStore(), "no-store: the source forbids keeping it; only a written permission of the provider changes that"},
		{p.Control.Private(), "private: meant for one reader alone; kept only with a permission of the provider"},
		{p.Control.Has("no-transform"), "no-transform: the picture may not be changed, so it cannot be made smaller or cut out of a larger one"},
		{p.Control.Has("must-revalidate"), "must-revalidate: not used stale when the source cannot be reached"},
		{p.Control.Has("no-cache"), "no-cache: to be confirmed each time by its headers"},
		{p.Control.Has("immutable"), "immutable: it never changes while it is fresh"},
		{p.Control.Has("stale-if-error"), "stale-if-error: it may stand in for a while when the source fails"},
	} {
		if d.says {
			lines = append(lines, d.text)
		}
	}
	if v := p.Header.Get("Vary"); v != "" {
		lines = append(lines, "Vary: "+printable(v)+": the answer depends on these headers of the request, which are always the same here")
	}
	return lines
}

// clockWords compares the source's clock with this computer's.
func clockWords(p discover.Probe) string {
	date, err := http.ParseTime(p.Header.Get("Date"))
	if err != nil {
		return "the source sends no date"
	}
	if p.Header.Get("Age") != "" {
		return "" // the date is that of a copy on the way
	}
	off := date.Sub(p.Received).Round(time.Second)
	switch {
	case off.Abs() <= 2*time.Second: // Date has whole seconds
		return "the same as this computer's, to within 2 s"
	case off > 0:
		return fmt.Sprintf("the source is %s ahead of this computer", measure.Duration(off))
	}
	return fmt.Sprintf("the source is %s behind this computer", measure.Duration(-off))
}

// oddities are what an operator should know before fetching thousands.
func oddities(s source.Source, p discover.Probe) (lines []string) {
	add := func(is bool, format string, args ...any) {
		if is {
			lines = append(lines, fmt.Sprintf(format, args...))
		}
	}
	kind, _, _ := strings.Cut(strings.ToLower(p.Header.Get("Content-Type")), ";")
	add(p.Status == 404 || p.Status == 204 || p.Status == 410, "the source has no tile there")
	add(p.Status != 200 && p.Status != 404 && p.Status != 204 && p.Status != 410, "the answer is %d, not 200", p.Status)
	add(p.Flaw == nil && !s.Vector() && kind != p.Picture.Kind.MediaType(), "the header says %s, and the content is %s",
		quoteOrNothing(kind), p.Picture.Kind.MediaType())
	add(p.Flaw == nil && (p.Picture.Width != s.TileSize || p.Picture.Height != s.TileSize),
		"the picture has %d×%d pixels, and tile_size is %d: correct it in sources.toml", p.Picture.Width,
		p.Picture.Height, s.TileSize)
	add(strings.HasPrefix(p.Address, "http://") && !s.Local() && s.Kind != source.KindPractice,
		"http without encryption: others on the way can see and change what comes")
	add(p.Header.Get("Set-Cookie") != "", "it sets a cookie; none is kept")
	add(!s.Vector() && p.Header.Get("Content-Encoding") != "" && p.Header.Get("Content-Encoding") != "identity",
		"it is packed (%s) although that was not asked for", printable(p.Header.Get("Content-Encoding")))
	if p.Flaw == nil && p.Status == 200 {
		add(pack.Flat(p.Data),
			"the picture is of one color: perhaps there is no imagery here; if this image stands for that, add placeholders = [\"%x\"] to the source", sha256.Sum256(p.Data))
		add(s.Placeholder(sha256.Sum256(p.Data)), "it is the image that stands for \"no imagery here\"")
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
