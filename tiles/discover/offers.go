package discover

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// sizes are those that tiles may have, the stated one alone when there is one.
func sizes(draft source.Source) []int {
	if draft.TileSize != 0 {
		return []int{draft.TileSize}
	}
	return []int{256, 512}
}

func (a *asker) offerTileJSON(ctx context.Context, t tileJSON, doc document) (Offer, error) {
	src := a.src
	src.Kind, src.Bounds, src.Attribution = source.KindTileJSON, t.bounds, words(t.attribution)
	if src.Zooms == (tiles.Zooms{}) {
		src.Zooms = t.zooms
	}
	offer := Offer{Source: src, Title: plain(t.name, 200), Whole: true}
	ready, err := t.fit(src, doc.at)
	if err != nil {
		return offer, err
	}
	return a.sized(ctx, offer, ready), nil
}

// offers lists the layers, or the one that the draft names.
func (d *wmtsDocument) offers(draft source.Source, at *url.URL) ([]Offer, error) {
	layers := d.Layers
	if draft.Layer != "" {
		l, err := d.layer(draft.Layer)
		if err != nil {
			return nil, err
		}
		layers = []wmtsLayer{l}
	}
	var out []Offer
	for _, l := range layers {
		offer, err := d.offer(l, draft, at)
		if err != nil && len(layers) == 1 {
			return nil, err
		}
		if err != nil {
			offer.note("cannot be used: " + err.Error())
		}
		out = append(out, offer)
	}
	return out, nil
}

func (d *wmtsDocument) offer(l wmtsLayer, draft source.Source, at *url.URL) (Offer, error) {
	src := draft
	src.Kind, src.Layer, src.Bounds = source.KindWMTS, l.ID, l.bounds()
	offer := Offer{Source: src, Title: plain(l.Title, 200)}
	var err error
	if src.Style, err = l.style(draft.Style); err != nil {
		return offer, err
	}
	if src.Format, err = chooseFormat(draft.Format, l.Formats); err != nil {
		return offer, err
	}
	if !d.choose(l, draft, &src) {
		src.Zooms, src.TileSize = cmp.Or(draft.Zooms, tiles.Zooms{Max: tiles.MaxZoom}), sizes(draft)[0]
		_, _, err := d.grid(l, src) // which says why
		return offer, cmp.Or(err, unfit("choose another layer", "no tile matrix set of layer %s is Web Mercator", quote(l.ID)))
	}
	if _, err := d.fit(src, at); err != nil {
		return offer, err
	}
	offer.Source, offer.Whole = src, true
	if d.Provider != "" {
		offer.note("the provider is " + d.Provider + "; a WMTS service states no attribution")
	}
	return offer, nil
}

// choose takes the tile matrix set with the most zooms.
func (d *wmtsDocument) choose(l wmtsLayer, draft source.Source, src *source.Source) (found bool) {
	for _, size := range sizes(draft) {
		for i, link := range l.Links {
			if draft.MatrixSet != "" && draft.MatrixSet != link.Set {
				continue
			}
			g, why := d.set(link.Set, l.limits(i), size)
			z, ok := g.zooms()
			if why != "" || !ok || found && z.Max-z.Min <= src.Zooms.Max-src.Zooms.Min {
				continue
			}
			src.MatrixSet, src.Zooms, src.TileSize, found = link.Set, z, size, true
		}
		if found {
			break
		}
	}
	if draft.Zooms != (tiles.Zooms{}) {
		src.Zooms = draft.Zooms
	}
	return found
}

// offers lists the layers that have a name, or what the draft names.
func (d *wmsDocument) offers(draft source.Source, at *url.URL) ([]Offer, error) {
	if draft.Layer == "" && len(d.Layers) > 1 {
		var out []Offer
		for _, l := range d.Layers {
			src := draft
			src.Kind, src.Layer = source.KindWMS, l.Name
			out = append(out, Offer{Source: src, Title: plain(l.Title, 200)})
		}
		return out, nil
	}
	src := draft
	src.Kind, src.Layer, src.Version = source.KindWMS, cmp.Or(draft.Layer, d.Layers[0].Name), d.Version
	src.TileSize = cmp.Or(draft.TileSize, 256)
	layers, err := d.chosen(src.Layer)
	if err != nil {
		return nil, err
	}
	if src.Format, err = chooseFormat(draft.Format, d.Formats); err != nil {
		return nil, err
	}
	src.Bounds, src.Attribution = layers[0].bounds(), words(layers[0].Attribution)
	offer := Offer{Title: plain(layers[0].Title, 200), Whole: true}
	shallowest := 0
	if _, err := d.crs(src, layers); err != nil && draft.CRS == "" && slices.Contains(layers[0].CRS, "EPSG:4326") {
		src.CRS, shallowest = "EPSG:4326", 12
		offer.note("it does not draw in Web Mercator; in degrees it is as good from zoom 12 on")
	}
	if src.Zooms == (tiles.Zooms{}) {
		src.Zooms = tiles.Zooms{Min: shallowest, Max: 22}
		offer.note("a WMS service draws at every zoom: beyond the sharpness of its pictures it only magnifies; state ground_resolution when you know it")
	}
	offer.Source = src
	_, err = d.fit(src, at)
	return []Offer{offer}, err
}

// offersOGC lists collections, or describes the one that there is or that the
// draft names.
func (a *asker) offersOGC(ctx context.Context, p page) ([]Offer, error) {
	a.src.Kind = source.KindOGCTiles
	if a.src.Layer == "" && len(p.Collections) == 0 && len(p.items()) == 0 && len(p.Tilesets) == 0 {
		_, whole := p.link("tilesets-map") // of all collections together
		if href, ok := p.link("data"); ok && !whole {
			collections, err := a.follow(ctx, p, href)
			if err != nil {
				return nil, err
			}
			p = collections
		}
	}
	if a.src.Layer == "" && len(p.Collections) > 1 {
		var out []Offer
		for _, c := range p.Collections {
			src := a.src
			src.Layer = c.ID
			out = append(out, Offer{Source: src, Title: plain(c.Title, 200)})
		}
		return out, nil
	}
	p, err := a.tilesets(ctx, p)
	if err != nil {
		return nil, err
	}
	found := []page{p}
	if len(p.items()) == 0 {
		found = nil
		for _, entry := range p.candidates(a.src.MatrixSet) {
			t, err := a.entry(ctx, page{entry, p.at})
			if err != nil {
				return nil, err
			}
			found = append(found, t)
		}
	}
	return a.offerTilesets(ctx, found)
}

// offerTilesets takes the first tileset that fits.
func (a *asker) offerTilesets(ctx context.Context, found []page) ([]Offer, error) {
	var why []error
	draft := a.src
	for _, t := range found {
		matrices, err := a.matrices(ctx, t)
		if err != nil {
			why = append(why, err)
			continue
		}
		for _, size := range sizes(draft) {
			zooms, ok := fit(matrices, t.listed(), size).zooms()
			if !ok {
				why = append(why, unfit("choose another tileset", "tileset %s has no zoom of Web Mercator with %d-pixel tiles", quote(t.SetID+t.SetURI), size))
				continue
			}
			a.src = draft
			a.src.TileSize, a.src.Zooms = size, cmp.Or(draft.Zooms, zooms)
			a.src.MatrixSet = cmp.Or(draft.MatrixSet, t.SetID, t.SetURI[strings.LastIndexByte(t.SetURI, '/')+1:])
			if _, err := a.tileset(ctx, t); err != nil {
				why = append(why, err)
				continue
			}
			src := a.src
			src.Attribution, src.Bounds = words(cmp.Or(t.Attribution, a.collection.Attribution)), a.collection.bounds()
			if item, err := t.item(draft.Format); err == nil {
				src.Format = strings.TrimSpace(item.Type)
			}
			return []Offer{{Source: src, Title: plain(cmp.Or(a.collection.Title, t.Title), 200), Whole: true}}, nil
		}
	}
	a.src = draft
	if len(why) == 0 {
		return nil, unfit("choose another collection", "it has no tileset of Web Mercator pictures")
	}
	var u *Unfit
	if errors.As(why[0], &u) {
		return nil, u
	}
	return nil, fmt.Errorf("none of its tilesets can be used: %w", why[0])
}

// listed are the limits of the tileset.
func (d ogcDocument) listed() (out []limit) {
	for _, l := range d.Limits {
		out = append(out, limit{l.Matrix, l.MinRow, l.MaxRow, l.MinCol, l.MaxCol})
	}
	return out
}
