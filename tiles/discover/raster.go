package discover

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles/imagery"
	"groundsheet/tiles/source"
)

// openRaster makes the operator's own pictures ready.
func openRaster(ctx context.Context, src source.Source, o Options) (source.Source, *http.Client, func() error, error) {
	none := func() error { return nil }
	remote, err := newSession(src, o).remote(ctx)
	if err != nil {
		return src, nil, none, err
	}
	answerer, err := imagery.Open(ctx, src, remote)
	if err != nil {
		return src, nil, none, err
	}
	src.Templates = []string{answerer.Template}
	return src, &http.Client{Transport: answerer}, answerer.Close, nil
}

// isPicture reports whether a draft means pictures, not tiles: an address of a
// GeoTIFF, a file that is no database, a folder without folders of zooms.
func isPicture(draft source.Source) bool {
	if draft.File == "" {
		u, err := url.Parse(draft.URL)
		return err == nil && slices.Contains([]string{".tif", ".tiff"}, strings.ToLower(path.Ext(u.Path))) &&
			!strings.Contains(draft.URL, "{z}") && !strings.Contains(draft.URL, "{q}")
	}
	info, err := os.Stat(draft.File)
	switch {
	case err != nil || strings.Contains(draft.File, "{"):
		return false
	case !info.IsDir():
		return info.Mode().IsRegular() && !isDatabase(draft.File)
	}
	for zoom := range 31 {
		if info, err := os.Stat(filepath.Join(draft.File, strconv.Itoa(zoom))); err == nil && info.IsDir() {
			return false
		}
	}
	return imagery.HoldsPictures(draft.File)
}

// isDatabase reports whether a file is one of SQLite ("Database File Format",
// 1.3.1), as MBTiles files are.
func isDatabase(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	start := make([]byte, 16)
	_, err = io.ReadFull(f, start)
	return err == nil && bytes.Equal(start, []byte("SQLite format 3\x00")) || strings.HasSuffix(strings.ToLower(path), ".mbtiles")
}

// describeRaster proposes how to state pictures.
func (s *session) describeRaster(ctx context.Context) ([]Offer, error) {
	remote, err := s.remote(ctx)
	if err != nil {
		return nil, err
	}
	p, err := imagery.Propose(ctx, s.src, remote)
	if err != nil {
		return nil, err
	}
	offer := Offer{Source: p.Source, Whole: true}
	for _, n := range p.Notes {
		offer.addNote(n)
	}
	return []Offer{offer}, nil
}
