package handover

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// recordsOf are the records of a pack, without the marks that came home into them.
func recordsOf(ctx context.Context, p *pack.Pack) (all []Find, err error) {
	for _, s := range p.Info.Overlays {
		o, err := p.ReadOverlay(ctx, s)
		if err != nil {
			return nil, err
		}
		for i, f := range o.Features {
			if record.Text(f.Properties, "mark") == "" {
				all = append(all, recordFind(o, f, i).split()...)
			}
		}
	}
	return all, nil
}

// taken are the properties of a record that have a field, under the name of the field.
var taken = map[string]string{
	"label": "label", "line": "line", "size": "size", "material": "material", "status": "status", "depth": "depth_as_typed",
	"depth_of": "depth_reference", "method": "method", "note": "note", "who": "who",
}

// numbers are those that are numbers.
var numbers = []string{"depth_m", "depth_accuracy_m", "frequency_hz", "current_ma"}

// own are properties that stand in another field.
var own = []string{"quality_level", "accuracy_m", "accuracy", "date", "owner", "kind", record.KindProperty, record.StateProperty, "width_m"}

func recordFind(o record.Overlay, f geojson.Feature, i int) Find {
	p := f.Properties
	out := Find{
		ID: fmt.Sprintf("%s/%s", o.ID, cmp.Or(f.ID, fmt.Sprint(i+1))), Source: Recorded, Utility: o.Kind.Code, Geometry: f.Geometry,
		Kind: cmp.Or(record.Text(p, record.KindProperty), record.Text(p, "kind"), "recorded"), Values: map[string]any{},
	}
	rest := map[string]any{}
	for name, v := range p {
		switch to := taken[name]; {
		case to != "":
			out.set(to, record.Text(p, name))
		case slices.Contains(numbers, name) && record.Number(p, name) != nil:
			out.set(name, record.Number(p, name))
		case !slices.Contains(own, name) && v != nil && v != "":
			rest[name] = v
		}
	}
	out.set("owner", cmp.Or(record.Text(p, "owner"), o.Owner))
	out.set("quality_level", o.LevelOf(p))
	out.set("accuracy_m", o.AccuracyOf(p))
	out.set("recorded", o.DateOf(p))
	out.set("book", o.Title)
	out.set("frame", o.Datum)
	if len(rest) > 0 {
		if text, err := json.Marshal(rest); err == nil {
			out.set("other", string(text))
		}
	}
	return out
}
