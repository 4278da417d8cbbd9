package discover

import (
	"cmp"
	"context"
	"net/url"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func (d *wmtsDocument) offers(_ context.Context, s *session, at *url.URL) ([]Offer, error) {
	layers := d.Layers
	if s.src.Layer != "" {
		l, err := d.layer(s.src.Layer)
		if err != nil {
			return nil, err
		}
		layers = []wmtsLayer{l}
	}
	var out []Offer
	for _, l := range layers {
		offer, err := d.offer(l, s.src, at)
		if err != nil && len(layers) == 1 {
			return nil, err
		}
		if err != nil {
			offer.addNote("cannot be used: " + err.Error())
		}
		out = append(out, offer)
	}
	return out, nil
}

func (d *wmtsDocument) offer(l wmtsLayer, draft source.Source, at *url.URL) (Offer, error) {
	src := draft
	src.Kind, src.Layer, src.Bounds = source.KindWMTS, l.ID, l.bounds()
	offer := Offer{Source: src, Title: oneLine(l.Title, 200)}
	var err error
	if src.Style, err = l.style(draft.Style); err != nil {
		return offer, err
	}
	if src.Format, err = chooseFormat(draft.Format, l.Formats); err != nil {
		return offer, err
	}
	if !d.chooseSet(l, draft, &src) {
		src.Zooms, src.TileSize = cmp.Or(draft.Zooms, tiles.Zooms{Max: tiles.MaxZoom}), sizes(draft)[0]
		_, _, err := d.grid(l, src) // which says why
		return offer, cmp.Or(err, unfit("choose another layer", "no tile matrix set of layer %s is Web Mercator",
			quote(l.ID)))
	}
	if _, err := d.fit(src, at); err != nil {
		return offer, err
	}
	offer.Source, offer.Whole = src, true
	if d.Provider != "" {
		offer.addNote("the provider is " + d.Provider + "; a WMTS service states no attribution")
	}
	return offer, nil
}

// chooseSet takes the tile matrix set with the most zooms.
func (d *wmtsDocument) chooseSet(l wmtsLayer, draft source.Source, src *source.Source) (found bool) {
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
	src.Zooms = cmp.Or(draft.Zooms, src.Zooms)
	return found
}
