package discover

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"groundsheet/tiles/drawn"
	"groundsheet/tiles/local"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/source"
)

// Open makes a source ready for fetching. resolved has an address for every
// tile; client asks for them, nil = the fetcher's own; done ends what was
// opened or started and must be called. Kinds without a document pass through.
// Errors are those of [Resolve], local.Unusable for a file or folder, and
// imagery.Unusable or gdal.Missing for pictures, drawn.Unusable and those of package
// vector for files that are drawn.
func Open(ctx context.Context, src source.Source,
	o Options) (resolved source.Source, client *http.Client, done func() error, err error) {
	none := func() error { return nil }
	switch {
	case src.Kind == source.KindRaster:
		return openRaster(ctx, src, o)
	case src.Kind == source.KindDrawn:
		answerer, err := drawn.Open(ctx, src)
		if err != nil {
			return src, nil, none, err
		}
		src.Templates = []string{answerer.Template}
		return src, &http.Client{Transport: answerer}, answerer.Close, nil
	case src.Local():
		files, err := openFiles(ctx, src)
		if err != nil {
			return src, nil, none, err
		}
		src.Templates = []string{files.Template}
		return src, &http.Client{Transport: files}, files.Close, nil
	case src.Kind == source.KindPractice && src.URL == "":
		running, err := practice.Start(ctx, "", practice.Options{Area: src.Bounds, Zooms: src.Zooms})
		if err != nil {
			return src, nil, none, fmt.Errorf("starting the practice source: %w", err)
		}
		src.URL = running.URL
		return src, o.Client, running.Close, nil
	}
	resolved, err = Resolve(ctx, src, o)
	return resolved, o.Client, none, err
}

func openFiles(ctx context.Context, src source.Source) (*local.Files, error) {
	if src.Kind == source.KindMBTiles {
		return local.OpenMBTiles(ctx, src.File, src.Vector())
	}
	return local.OpenFolder(src.File, src.Path)
}

// Resolve reads the document of a source that has one, checks it against what
// is stated, and returns the source with its addresses: Templates, Matrix,
// Limits, for wms also Version. What decides the name of its shelf does not
// change. Sources of other kinds pass through; pictures (kind raster) are for
// [Open] alone. Faults:
//
//   - [Failed], [Outage]: the service could not be asked, or answered something else;
//   - [Unfit]: it does not have what is stated;
//   - source.Refused: it leads to a host whose policy forbids offline use;
//   - source.OtherHost: it leads to a host that the operator did not name;
//   - the context's error.
func Resolve(ctx context.Context, src source.Source, o Options) (source.Source, error) {
	if !src.Asked() || src.Kind == source.KindRaster {
		return src, nil
	}
	if err := src.Forbidden(); err != nil {
		return src, err
	}
	s := newSession(src, o)
	out, err := s.resolve(ctx)
	if err != nil {
		return src, s.blame(err)
	}
	return out, out.Forbidden()
}

// document is what a service says of itself.
type document interface {
	// fit returns the source with the addresses of the document, which came from
	// an address.
	fit(src source.Source, at *url.URL) (source.Source, error)
	// offers lists the layers, or the one that the session's source names.
	offers(ctx context.Context, s *session, at *url.URL) ([]Offer, error)
}

func (s *session) resolve(ctx context.Context) (source.Source, error) {
	var r response
	var err error
	name := "WMTS 1.0.0 service"
	switch s.src.Kind {
	case source.KindOGCTiles:
		return ogcSession{s}.resolve(ctx)
	case source.KindTileJSON:
		name = "TileJSON document"
		r, err = s.document(ctx, s.src.URL, acceptJSON)
	case source.KindWMTS:
		r, err = s.capabilities(ctx, "WMTS", "1.0.0")
	default:
		name = "WMS service"
		r, err = s.capabilities(ctx, "WMS", cmp.Or(s.src.Version, "1.3.0"))
	}
	if err != nil {
		return s.src, err
	}
	d, err := s.parse(s.src.Kind, r.data, "give the address of a "+name+", or ask what it is with groundsheet source add")
	if err != nil {
		return s.src, err
	}
	return d.fit(s.src, r.at)
}

// parse reads the document of a service of a kind.
func (s *session) parse(kind string, data []byte, remedy string) (d document, err error) {
	what := "WMS capabilities"
	switch kind {
	case source.KindTileJSON:
		what = "TileJSON document"
		d, err = parseTileJSON(data)
	case source.KindWMTS:
		what = "WMTS capabilities"
		d, err = parseWMTS(data)
	default:
		d, err = parseWMS(data)
	}
	if err != nil {
		return nil, s.fail(Failed, s.src.URL, "no "+what, err, remedy)
	}
	return d, nil
}

// capabilities reads the document that an address names, or asks a bare
// service for it.
func (s *session) capabilities(ctx context.Context, service, version string) (response, error) {
	address := s.src.URL
	path, query, _ := strings.Cut(strings.ToLower(address), "?")
	if !strings.Contains(query, "request=getcapabilities") && (query != "" || !strings.HasSuffix(path, ".xml")) {
		address = withParameters(address, "SERVICE="+service, "REQUEST=GetCapabilities", "VERSION="+version)
	}
	return s.document(ctx, address, acceptXML)
}
