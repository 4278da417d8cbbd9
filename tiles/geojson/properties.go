package geojson

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
)

// exactWhole is the largest whole number below which float64 holds every one.
const exactWhole = 1 << 53

func identity(raw json.RawMessage, place string) (string, error) {
	if len(raw) == 0 || isNull(raw) {
		return "", nil
	}
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text, nil
	}
	var number json.Number
	if json.Unmarshal(raw, &number) == nil {
		return number.String(), nil
	}
	return "", refuse(RuleMember, place, `member "id" is `+sort(raw), "an id is a text or a number")
}

func properties(raw json.RawMessage, place string) (map[string]any, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var p map[string]any
	if err := d.Decode(&p); err != nil {
		return nil, refuse(RuleMember, place, `member "properties" is `+sort(raw), "properties are an object or null")
	}
	for k, v := range p {
		p[k] = plain(v)
	}
	return p, nil
}

// plain turns numbers into float64 where that keeps them.
func plain(v any) any {
	switch v := v.(type) {
	case json.Number:
		f, err := strconv.ParseFloat(v.String(), 64)
		whole := !strings.ContainsAny(v.String(), ".eE")
		if err != nil || whole && (f >= exactWhole || f <= -exactWhole) {
			return v
		}
		return f
	case []any:
		for i := range v {
			v[i] = plain(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = plain(v[k])
		}
	}
	return v
}
