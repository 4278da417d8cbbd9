package discover

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"net/http"
	"regexp"
	"strings"

	"groundsheet/tiles"
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
// [Resolve], and *local.NotUsable.
func Describe(ctx context.Context, draft source.Source, o Options) ([]Offer, error) {
	a := newAsker(draft, o)
	var offers []Offer
	var err error
	switch {
	case draft.File != "":
		offers, err = a.files(ctx)
	case a.src.Forbidden() != nil:
		return nil, a.src.Forbidden()
	case strings.Contains(draft.URL, "{z}") || strings.Contains(draft.URL, "{q}"):
		offers, err = a.template(ctx)
	default:
		offers, err = a.ask(ctx)
	}
	return offers, a.blame(err)
}

// ask reads what the address answers; a bare service, which answers nothing of
// use, is asked for its capabilities.
func (a *asker) ask(ctx context.Context) ([]Offer, error) {
	doc, err := a.get(ctx, a.src.URL, acceptAny)
	var status *Rejected
	if err != nil && (!errors.As(err, &status) || status.Status == 401 || status.Status == 403 || status.Status == 511) {
		return nil, err
	}
	if err == nil {
		if offers, known, err := a.sniff(ctx, doc); known {
			return offers, err
		}
	}
	for _, service := range []string{"WMTS&VERSION=1.0.0", "WMS&VERSION=1.3.0"} {
		name, version, _ := strings.Cut(service, "&")
		asked, err := a.get(ctx, ask(a.src.URL, "SERVICE="+name, "REQUEST=GetCapabilities", version), acceptXML)
		if err != nil {
			continue
		}
		if offers, known, err := a.sniff(ctx, asked); known {
			return offers, err
		}
	}
	if err != nil {
		return nil, err
	}
	return nil, a.failed(a.src.URL, "it is "+looksLike(doc)+", not a map service that is known", nil,
		"give the address of a TileJSON document, a WMTS or WMS service, an OGC API, or of a tile with {z} {x} {y} in it")
}

// sniff goes by the content of a document.
func (a *asker) sniff(ctx context.Context, doc document) (offers []Offer, known bool, err error) {
	data := bytes.TrimSpace(bytes.TrimPrefix(doc.data, []byte("\ufeff")))
	if bytes.HasPrefix(data, []byte("{")) {
		return a.sniffJSON(ctx, doc, data)
	}
	switch root(data) {
	case "Capabilities":
		d, err := parseWMTS(data)
		if err != nil {
			return nil, true, a.failed(a.src.URL, "no WMTS capabilities", err, "ask the provider")
		}
		offers, err := d.offers(a.src, doc.at)
		return offers, true, err
	case "WMS_Capabilities", "WMT_MS_Capabilities":
		d, err := parseWMS(data)
		if err != nil {
			return nil, true, a.failed(a.src.URL, "no WMS capabilities", err, "ask the provider")
		}
		offers, err := d.offers(a.src, doc.at)
		return offers, true, err
	}
	return nil, false, nil
}

func (a *asker) sniffJSON(ctx context.Context, doc document, data []byte) (offers []Offer, known bool, err error) {
	var keys map[string]json.RawMessage
	if json.Unmarshal(data, &keys) != nil {
		return nil, false, nil
	}
	if _, is := keys["tilejson"]; is {
		t, err := parseTileJSON(data)
		if err != nil {
			return nil, true, a.failed(a.src.URL, "no TileJSON document", err, "ask the provider")
		}
		offer, err := a.offerTileJSON(ctx, t, doc)
		return []Offer{offer}, true, err
	}
	d, err := parseOGC(data)
	if err != nil {
		return nil, false, nil
	}
	offers, err = a.offersOGC(ctx, page{d, doc.at})
	return offers, true, err
}

func looksLike(doc document) string {
	if _, err := raster.Prove(doc.data, 0); err == nil {
		return "one picture"
	}
	kind, _, _ := strings.Cut(http.DetectContentType(doc.data), ";")
	if kind == "text/html" {
		return "a web page"
	}
	return kind
}

// template describes an address with {z} {x} {y}. Nobody says which zooms it
// has.
func (a *asker) template(ctx context.Context) ([]Offer, error) {
	src := a.src
	src.Kind = source.KindXYZ
	if src.Zooms == (tiles.Zooms{}) {
		return nil, unfit("state them: --zooms 8,21", "an address with {z} in it does not tell which zooms there are")
	}
	offer := Offer{Source: src, Whole: true}
	if strings.Contains(src.URL, "{y}") {
		offer.note(`rows are taken as counted from the north; a source that counts from the south needs kind = "tms"`)
	}
	return []Offer{a.sized(ctx, offer, src)}, nil
}

// sized asks for one tile to learn how large tiles are.
func (a *asker) sized(ctx context.Context, offer Offer, ready source.Source) Offer {
	if a.src.TileSize != 0 {
		offer.Source.TileSize = a.src.TileSize
		return offer
	}
	offer.Source.TileSize = 256
	ready.TileSize = 256
	lat, lon := 0.0, 0.0
	if b := ready.Bounds; b != nil {
		lon, lat = b.Center()
	}
	l, err := LookAt(ctx, ready, tiles.At(lon, lat, ready.Zooms.Min), nil, a.o)
	switch {
	case err != nil:
		offer.note("tile_size is not known: " + a.src.Redact(err.Error()))
	case l.Status != 200 || l.Flaw != nil:
		offer.note(fmt.Sprintf("tile_size is not known: tile %v, asked for to see, came as %d %s", l.Tile, l.Status, http.StatusText(l.Status)))
	case l.Picture.Width != l.Picture.Height || l.Picture.Width != 256 && l.Picture.Width != 512:
		offer.note(fmt.Sprintf("its tiles have %d×%d pixels, which cannot be used: 256 or 512", l.Picture.Width, l.Picture.Height))
	default:
		offer.Source.TileSize = l.Picture.Width
	}
	return offer
}

func (o *Offer) note(text string) { o.Notes = append(o.Notes, plain(text, 400)) }

// files describes a path: an MBTiles file, a folder, or a template.
func (a *asker) files(ctx context.Context) ([]Offer, error) {
	path, template := a.src.File, ""
	if before, _, is := strings.Cut(path, "{"); is {
		path, template = strings.TrimRight(before, `/\`), a.src.File
	}
	about, err := local.Look(ctx, path)
	if err != nil {
		return nil, err
	}
	src := a.src
	src.Kind, src.File, src.Zooms, src.Bounds = about.Kind, about.File, about.Zooms, about.Bounds
	if a.src.Zooms != (tiles.Zooms{}) {
		src.Zooms = a.src.Zooms
	}
	src.Attribution = words(about.Attribution)
	offer := Offer{Source: src, Title: plain(about.Name, 200), Whole: true}
	picture, flaw := raster.Prove(about.Sample, 0)
	offer.Source.TileSize = picture.Width
	if flaw != nil || picture.Width != picture.Height || picture.Width != 256 && picture.Width != 512 {
		return nil, unfit("a base map needs square pictures of 256 or 512 pixels: png, jpg or webp", "%s: one of its tiles cannot be used: %d×%d pixels %v", path, picture.Width, picture.Height, flaw)
	}
	switch south := strings.Replace(about.File, "{y}", "{-y}", 1); {
	case template != "":
		offer.Source.File = template
	case about.Kind == source.KindMBTiles:
	case about.RowsFrom == "south":
		offer.Source.File = south
		offer.note("rows are counted from the south: tilemapresource.xml lies beside the tiles")
	default:
		// Nothing in a folder tells which end rows are counted from.
		other := offer
		offer.Title, other.Title, other.Source.File = "rows counted from the north", "rows counted from the south", south
		offer.Whole, other.Whole = false, false
		return []Offer{offer, other}, nil
	}
	return []Offer{offer}, nil
}

var markup = regexp.MustCompile(`<[^>]*>`)

// words are a text without its mark-up: attributions may be HTML.
func words(s string) string {
	return plain(html.UnescapeString(markup.ReplaceAllString(plain(s, 4000), "")), 500)
}
