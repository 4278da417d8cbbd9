package document

import (
	"encoding/json"
	"errors"
	"fmt"

	"groundsheet/tiles/geojson"
)

// collection is a GeoJSON FeatureCollection, its features unread.
type collection struct {
	Type     string            `json:"type"`
	NotDrawn int               `json:"not_drawn,omitempty"` // a foreign member (RFC 7946, 6.1)
	Features []json.RawMessage `json:"features"`
}

// Filter gives a collection with those features that keep admits; not_drawn says how
// many it does not, when counted.
func Filter(body []byte, counted bool, keep func(feature json.RawMessage) (bool, error)) ([]byte, error) {
	var all collection
	if err := json.Unmarshal(body, &all); err != nil {
		return nil, fmt.Errorf("no GeoJSON FeatureCollection: %w", err)
	}
	if all.Type != "FeatureCollection" {
		return nil, errors.New("no GeoJSON FeatureCollection")
	}
	kept := collection{Type: all.Type, Features: []json.RawMessage{}}
	for _, f := range all.Features {
		ok, err := keep(f)
		if err != nil {
			return nil, err
		}
		if ok {
			kept.Features = append(kept.Features, f)
		}
	}
	if counted {
		kept.NotDrawn = len(all.Features) - len(kept.Features)
	}
	return json.Marshal(kept)
}

// Drawable leaves out of a collection what a page cannot draw: features that are not
// GeoJSON or lie off the globe, as a damaged or hostile pack may hold. The member
// not_drawn counts them. A collection without such features stays as it is.
func Drawable(body []byte) ([]byte, error) {
	if _, err := geojson.Read(body); err == nil {
		return body, nil
	}
	return Filter(body, true, func(f json.RawMessage) (bool, error) {
		read, err := geojson.Read(f)
		return err == nil && len(read) == 1, nil
	})
}
