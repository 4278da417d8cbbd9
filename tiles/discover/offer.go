package discover

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/drawn"
	"groundsheet/tiles/local"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// Offer is one layer of a service as it may be written into sources.toml. Its
// terms are not stated: only the operator can have read them.
type Offer struct {
	Source source.Source
	Title  string   // what the service calls it; "" when it has no other name than the layer
	Notes  []string // what is not known, or odd
	Whole  bool     // everything that is needed is known; else the layer has to be chosen first
}

// Describe asks what is at an address, draft.URL, or a path, draft.File. What
// the draft states besides (layer, format, zooms …) is taken as it is and
// narrows the offers. Several offers want a choice. Errors are those of
// [Resolve], and local.Unusable.
func Describe(ctx context.Context, draft source.Source, o Options) ([]Offer, error) {
	s := newSession(draft, o)
	var offers []Offer
	var err error
	switch {
	case draft.Kind == source.KindDrawn:
		offers, err = describeDrawn(ctx, draft)
	case draft.Kind == source.KindRaster || len(draft.Files) > 0 || isPicture(draft):
		offers, err = s.describeRaster(ctx)
	case draft.File != "":
		offers, err = s.describeFiles(ctx)
	case draft.Forbidden() != nil:
		return nil, draft.Forbidden()
	case strings.Contains(draft.URL, "{z}") || strings.Contains(draft.URL, "{q}"):
		offers, err = s.describeTemplate(ctx)
	default:
		offers, err = s.describeService(ctx)
	}
	return offers, s.blame(err)
}

// describeService reads what the address answers; a bare service, which answers
// nothing of use, is asked for its capabilities.
func (s *session) describeService(ctx context.Context) ([]Offer, error) {
	r, err := s.document(ctx, s.src.URL, acceptAny)
	var status statusError
	if err != nil && (!errors.As(err, &status) || slices.Contains([]statusError{401, 403, 511}, status)) {
		return nil, err
	}
	if err == nil {
		if offers, known, err := s.sniff(ctx, r); known {
			return offers, err
		}
	}
	for _, service := range []string{"WMTS&VERSION=1.0.0", "WMS&VERSION=1.3.0"} {
		name, version, _ := strings.Cut(service, "&")
		asked, err := s.document(ctx, withParameters(s.src.URL, "SERVICE="+name, "REQUEST=GetCapabilities", version),
			acceptXML)
		if err != nil {
			continue
		}
		if offers, known, err := s.sniff(ctx, asked); known {
			return offers, err
		}
	}
	if err != nil {
		return nil, err
	}
	return nil, s.fail(Failed, s.src.URL, "it is "+looksLike(r)+", not a map service that is known", nil,
		"give the address of a TileJSON document, a WMTS or WMS service, an OGC API, or of a tile with {z} {x} {y} in it")
}

// sniff goes by the content of a document.
func (s *session) sniff(ctx context.Context, r response) (offers []Offer, known bool, err error) {
	data := bytes.TrimSpace(bytes.TrimPrefix(r.data, []byte("\ufeff")))
	var keys map[string]json.RawMessage
	kind := ""
	switch rootElement(data) {
	case "Capabilities":
		kind = source.KindWMTS
	case "WMS_Capabilities", "WMT_MS_Capabilities":
		kind = source.KindWMS
	default:
		if json.Unmarshal(data, &keys) != nil {
			return nil, false, nil
		}
		if _, is := keys["tilejson"]; is {
			kind = source.KindTileJSON
			break
		}
		d, err := parseOGC(data)
		if err != nil {
			return nil, false, nil
		}
		offers, err = ogcSession{s}.offers(ctx, page{ogcDocument: d, at: r.at})
		return offers, true, err
	}
	d, err := s.parse(kind, data, "ask the provider")
	if err == nil {
		offers, err = d.offers(ctx, s, r.at)
	}
	return offers, true, err
}

func looksLike(r response) string {
	if _, err := raster.Prove(r.data, 0); err == nil {
		return "one picture"
	}
	kind, _, _ := strings.Cut(http.DetectContentType(r.data), ";")
	if kind == "text/html" {
		return "a web page"
	}
	return kind
}

// describeTemplate describes an address with {z} {x} {y}, which does not say
// which zooms it has.
func (s *session) describeTemplate(ctx context.Context) ([]Offer, error) {
	src := s.src
	src.Kind = source.KindXYZ
	if src.Zooms == (tiles.Zooms{}) {
		return nil, unfit("state them: --zooms 8,21", "an address with {z} in it does not tell which zooms there are")
	}
	offer := Offer{Source: src, Whole: true}
	if strings.Contains(src.URL, "{y}") {
		offer.addNote(`rows are taken as counted from the north; a source that counts from the south needs kind = "tms"`)
	}
	return []Offer{s.sized(ctx, offer, src)}, nil
}

// sized asks for one tile to learn how large tiles are.
func (s *session) sized(ctx context.Context, offer Offer, ready source.Source) Offer {
	if s.src.TileSize != 0 {
		offer.Source.TileSize = s.src.TileSize
		return offer
	}
	offer.Source.TileSize, ready.TileSize = 256, 256
	lat, lon := 0.0, 0.0
	if b := ready.Bounds; b != nil {
		lon, lat = b.Center()
	}
	p, err := ProbeTile(ctx, ready, tiles.At(lon, lat, ready.Zooms.Min), nil, s.o)
	switch {
	case err != nil:
		offer.addNote("tile_size is not known: " + s.src.Redact(err.Error()))
	case p.Status != 200 || p.Flaw != nil:
		offer.addNote(fmt.Sprintf("tile_size is not known: tile %v, asked for to see, came as %d %s", p.Tile,
			p.Status, http.StatusText(p.Status)))
	case !goodSize(p.Picture):
		offer.addNote(fmt.Sprintf("its tiles have %d×%d pixels, which cannot be used: 256 or 512",
			p.Picture.Width, p.Picture.Height))
	default:
		offer.Source.TileSize = p.Picture.Width
	}
	return offer
}

// goodSize reports whether a picture can be a tile.
func goodSize(p raster.Picture) bool {
	return p.Width == p.Height && (p.Width == 256 || p.Width == 512)
}

// sizes are those that tiles may have, the stated one alone if there is one.
func sizes(draft source.Source) []int {
	if draft.TileSize != 0 {
		return []int{draft.TileSize}
	}
	return []int{256, 512}
}

func (o *Offer) addNote(text string) { o.Notes = append(o.Notes, oneLine(text, 400)) }

// describeFiles describes a path: an MBTiles file, a folder, or a template.
func (s *session) describeFiles(ctx context.Context) ([]Offer, error) {
	path, template := s.src.File, ""
	if before, _, is := strings.Cut(path, "{"); is {
		path, template = strings.TrimRight(before, `/\`), s.src.File
	}
	about, err := local.Describe(ctx, path)
	if err != nil {
		return nil, err
	}
	src := s.src
	src.Kind, src.File, src.Bounds = about.Kind, about.File, about.Bounds
	src.Zooms = cmp.Or(s.src.Zooms, about.Zooms)
	src.Attribution = plainText(about.Attribution)
	offer := Offer{Source: src, Title: oneLine(about.Name, 200), Whole: true}
	if about.Vector {
		layers, err := layersOf(about.Layers, about.Sample)
		if err != nil {
			return nil, err
		}
		offer.asVector(layers)
		return []Offer{offer}, nil
	}
	picture, flaw := raster.Prove(about.Sample, 0)
	offer.Source.TileSize = picture.Width
	if flaw != nil || !goodSize(picture) {
		return nil, unfit("a base map needs square pictures of 256 or 512 pixels: png, jpg or webp",
			"%s: one of its tiles cannot be used: %d×%d pixels %v", path, picture.Width, picture.Height, flaw)
	}
	switch south := strings.Replace(about.File, "{y}", "{-y}", 1); {
	case template != "":
		offer.Source.File = template
	case about.Kind == source.KindMBTiles:
	case about.RowsFrom == "south":
		offer.Source.File = south
		offer.addNote("rows are counted from the south: tilemapresource.xml lies beside the tiles")
	default:
		// Nothing in a folder tells which end rows are counted from.
		other := offer
		offer.Title, other.Title, other.Source.File = "rows counted from the north", "rows counted from the south", south
		offer.Whole, other.Whole = false, false
		return []Offer{offer, other}, nil
	}
	return []Offer{offer}, nil
}

// describeDrawn proposes how files are drawn.
func describeDrawn(ctx context.Context, draft source.Source) ([]Offer, error) {
	p, err := drawn.Propose(ctx, draft)
	if err != nil {
		return nil, err
	}
	offer := Offer{Source: p.Source, Whole: true}
	for _, n := range p.Notes {
		offer.addNote(n)
	}
	return []Offer{offer}, nil
}

var markup = regexp.MustCompile(`<[^>]*>`)

// plainText is a text without its mark-up: attributions may be HTML.
func plainText(s string) string {
	return oneLine(html.UnescapeString(markup.ReplaceAllString(oneLine(s, 4000), "")), 500)
}
