package document

import (
	"encoding/json"

	"groundsheet/tiles/geojson"
)

// collection is a GeoJSON FeatureCollection, its features unread.
type collection struct {
	Type     string            `json:"type"`
	NotDrawn int               `json:"not_drawn,omitempty"` // a foreign member (RFC 7946, 6.1)
	Features []json.RawMessage `json:"features"`
}

// Filter gives a collection with those features that keep admits; err is what is wrong
// with a feature. When counted, not_drawn says how many it does not admit.
func Filter(body []byte, counted bool, keep func(f geojson.Feature, err error) bool) ([]byte, error) {
	kept := collection{Type: "FeatureCollection", Features: []json.RawMessage{}}
	err := geojson.Each(body, func(raw []byte, f geojson.Feature, err error) error {
		if keep(f, err) {
			kept.Features = append(kept.Features, raw)
		} else if counted {
			kept.NotDrawn++
		}
		return nil
	})
	if err != nil {
		return nil, err
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
	return Filter(body, true, func(_ geojson.Feature, err error) bool { return err == nil })
}
