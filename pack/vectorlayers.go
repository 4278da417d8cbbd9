package pack

import (
	"encoding/json"
	"maps"
	"slices"
	"sync"

	"groundsheet/tiles"
	"groundsheet/tiles/mvt"
)

// vectorLayers gathers what the packed vector tiles hold, for the row "json" of the
// metadata. The zero value is empty; tiles may be added by many at once.
type vectorLayers struct {
	mu  sync.Mutex
	all map[string]*vectorLayer
}

// vectorLayer is a layer as MBTiles 1.3 and TileJSON 3.0.0 describe it.
type vectorLayer struct {
	ID          string            `json:"id"`
	Description string            `json:"description"`
	MinZoom     uint32            `json:"minzoom"`
	MaxZoom     uint32            `json:"maxzoom"`
	Fields      map[string]string `json:"fields"`
}

// mostDescribed bounds the layers and the fields of each that are described.
const mostDescribed = 1000

func (v *vectorLayers) add(t tiles.ID, layers []mvt.Layer) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.all == nil {
		v.all = map[string]*vectorLayer{}
	}
	for _, l := range layers {
		one := v.all[l.Name]
		if one == nil {
			if len(v.all) == mostDescribed {
				continue
			}
			one = &vectorLayer{ID: l.Name, MinZoom: t.Z, MaxZoom: t.Z, Fields: map[string]string{}}
			v.all[l.Name] = one
		}
		one.MinZoom, one.MaxZoom = min(one.MinZoom, t.Z), max(one.MaxZoom, t.Z)
		for name, kind := range l.Fields {
			switch was, has := one.Fields[name]; {
			case !has && len(one.Fields) < mostDescribed:
				one.Fields[name] = kind
			case has && was != kind:
				one.Fields[name] = "String" // of several kinds
			}
		}
	}
}

func (v *vectorLayers) json() (string, error) {
	layers := []*vectorLayer{}
	for _, name := range slices.Sorted(maps.Keys(v.all)) {
		layers = append(layers, v.all[name])
	}
	text, err := json.Marshal(map[string]any{"vector_layers": layers})
	return string(text), err
}
