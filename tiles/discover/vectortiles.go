package discover

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"groundsheet/tiles/drawn"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/source"
)

// asVector makes an offer of vector tiles, with a proposal as what each of their layers
// is drawn.
func (o *Offer) asVector(layers []VectorLayer) {
	o.Source.Format, o.Source.TileSize, o.Source.Draw = source.FormatVector, 512, nil
	var left []string
	for _, l := range layers {
		role := drawn.RoleFor(l.ID)
		if role == "" {
			left = append(left, l.ID)
			continue
		}
		name := drawn.FieldFor(role, slices.Sorted(maps.Keys(l.Fields)))
		o.Source.Draw = append(o.Source.Draw, source.Draw{Layers: []string{l.ID}, Role: role, Name: name})
	}
	o.addNote(fmt.Sprintf("vector tiles: %d of its %d layers are drawn, each as its name says; look whether that is right, and add the others you want",
		len(o.Source.Draw), len(layers)))
	if len(left) > 0 {
		o.addNote("layers not drawn: " + strings.Join(left, ", "))
	}
	o.Whole = len(o.Source.Draw) > 0
}

func layerNames(layers []VectorLayer) string {
	var names []string
	for _, l := range layers {
		names = append(names, l.ID)
	}
	return oneLine(strings.Join(names, ", "), 300)
}

// layersOf are the layers that a file describes, or else those of one of its tiles.
func layersOf(described string, data []byte) (all []VectorLayer, err error) {
	var metadata struct {
		Layers []VectorLayer `json:"vector_layers"`
	}
	layers, err := mvt.Decode(data)
	if err == nil && json.Unmarshal([]byte(described), &metadata) == nil && len(metadata.Layers) > 0 {
		return metadata.Layers, nil
	}
	for _, l := range layers {
		all = append(all, VectorLayer{l.Name, l.Fields})
	}
	return all, err
}
