package discover

import (
	"context"
	"fmt"
	"net/http"

	"groundsheet/tiles/local"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/source"
)

// Open makes a source ready for fetching. resolved has an address for every
// tile; client asks for them, nil = the fetcher's own; done ends what was
// opened or started and must be called. What no service has to be asked for
// passes through. Errors: those of [Resolve], and *local.NotUsable for a file
// or folder.
func Open(ctx context.Context, src source.Source, o Options) (resolved source.Source, client *http.Client, done func() error, err error) {
	none := func() error { return nil }
	switch {
	case src.Local():
		files, err := open(ctx, src)
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

func open(ctx context.Context, src source.Source) (*local.Files, error) {
	if src.Kind == source.KindMBTiles {
		return local.OpenMBTiles(ctx, src.File)
	}
	return local.OpenFolder(src.File, src.Path)
}

// Resolve reads the document of a source that has one, checks it against what
// is stated, and gives the source with its addresses: Templates, Matrix,
// Limits, for wms also Version. What decides the name of its shelf does not
// change. Sources of other kinds pass through. Errors:
//
//   - *[Failed]: the service could not be asked, or answered something else;
//   - *[Unfit]: it does not have what is stated;
//   - *source.Refused: it leads to a host whose policy forbids offline use;
//   - *source.OtherHost: it leads to a host that nobody named;
//   - the context's error.
func Resolve(ctx context.Context, src source.Source, o Options) (source.Source, error) {
	if !src.Asked() {
		return src, nil
	}
	if err := src.Forbidden(); err != nil {
		return src, err
	}
	a := newAsker(src, o)
	var out source.Source
	var err error
	switch src.Kind {
	case source.KindTileJSON:
		out, err = a.tileJSON(ctx)
	case source.KindWMTS:
		out, err = a.wmts(ctx)
	case source.KindWMS:
		out, err = a.wms(ctx)
	default:
		out, err = a.ogcTiles(ctx)
	}
	if err != nil {
		return src, a.blame(err)
	}
	return out, out.Forbidden()
}
