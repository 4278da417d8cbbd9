package serve

import (
	"encoding/json"
	"fmt"

	"groundsheet/tiles/geojson"
)

// soundly passes on what was read, see [sound].
func soundly(body []byte, err error) ([]byte, error) {
	if err != nil {
		return nil, err
	}
	return sound(body)
}

// sound leaves out of a collection what a page cannot draw: features that are
// not GeoJSON or lie off the globe, as a damaged or hostile pack may hold. Their
// number stands in the member "not_drawn" (RFC 7946, 6.1), which is not there
// when there are none: the text then goes out as it was packed.
func sound(body []byte) ([]byte, error) {
	if _, err := geojson.Read(body); err == nil {
		return body, nil
	}
	var all struct {
		Type     string            `json:"type"`
		Features []json.RawMessage `json:"features"`
	}
	if err := json.Unmarshal(body, &all); err != nil || all.Type != "FeatureCollection" {
		return nil, fmt.Errorf("no GeoJSON FeatureCollection: %w", err)
	}
	var kept []json.RawMessage
	for _, raw := range all.Features {
		if read, err := geojson.Read(raw); err == nil && len(read) == 1 {
			kept = append(kept, raw)
		}
	}
	return json.Marshal(struct {
		Type     string            `json:"type"`
		NotDrawn int               `json:"not_drawn"`
		Features []json.RawMessage `json:"features"`
	}{all.Type, len(all.Features) - len(kept), append([]json.RawMessage{}, kept...)})
}
