package handover

import (
	"encoding/json"
	"strings"
	"sync"

	"groundsheet/tiles/words"
)

// Field is one field of a find, the same in every form.
type Field struct {
	Name   string // letters, digits and _
	Short  string // in a shapefile, where a name has ten bytes
	Number bool   // else text
	Unit   string // "" = none
	About  string // for people
	from   string // of a mark: the property, or one within a property; "" = worked out here
}

// Fields are the fields of every find, in their order. The slice is not to be changed.
func Fields() []Field { return allFields() }

var allFields = sync.OnceValue(func() []Field {
	return []Field{
		{"id", "id", false, "", words.Say("handover.field_id"), ""},
		{"source", "source", false, "", words.Say("handover.field_source"), ""},
		{"kind", "kind", false, "", words.Say("handover.field_kind"), ""},
		{"utility", "utility", false, "", words.Say("handover.field_utility"), ""},
		{"label", "label", false, "", words.Say("handover.field_label"), "label"},
		{"owner", "owner", false, "", words.Say("handover.field_owner"), "owner"},
		{"line", "line", false, "", words.Say("handover.field_line"), "line"},
		{"run", "run", false, "", words.Say("handover.field_run"), "line"},
		{"size", "size", false, "", words.Say("handover.field_size"), "size"},
		{"material", "material", false, "", words.Say("handover.field_material"), "material"},
		{"status", "status", false, "", words.Say("handover.field_status"), "status"},
		{"depth_m", "depth_m", true, "m", words.Say("handover.field_depth_m"), "depth_m"},
		{"depth_as_typed", "depth_txt", false, "", words.Say("handover.field_depth_as_typed"), "depth_as_typed"},
		{"depth_reference", "depth_ref", false, "", words.Say("handover.field_depth_reference"), "depth_reference"},
		{"depth_accuracy_m", "depth_acc", true, "m", words.Say("handover.field_depth_accuracy_m"), "depth_accuracy_m"},
		{"accuracy_m", "accuracy_m", true, "m", words.Say("handover.field_accuracy_m"), ""},
		{"method", "method", false, "", words.Say("handover.field_method"), "method"},
		{"frequency_hz", "freq_hz", true, "Hz", words.Say("handover.field_frequency_hz"), "frequency_hz"},
		{"current_ma", "current_ma", true, "mA", words.Say("handover.field_current_ma"), "current_ma"},
		{"quality_level", "qual_level", false, "", words.Say("handover.field_quality_level"), "quality_level"},
		{"reason", "reason", false, "", words.Say("handover.field_reason"), "reason"},
		{"note", "note", false, "", words.Say("handover.field_note"), "note"},
		{"limits", "limits", false, "", words.Say("handover.field_limits"), ""},
		{"recorded", "recorded", false, "", words.Say("handover.field_recorded"), ""},
		{"clock", "clock", false, "", words.Say("handover.field_clock"), ""},
		{"clock_ahead_s", "clk_ahead", true, "s", words.Say("handover.field_clock_ahead_s"), ""},
		{"received", "received", false, "", words.Say("handover.field_received"), ""},
		{"who", "who", false, "", words.Say("handover.field_who"), ""},
		{"position_from", "pos_from", false, "", words.Say("handover.field_position_from"), "position.from"},
		{"fix", "fix", false, "", words.Say("handover.field_fix"), "position.kind"},
		{"satellites", "satellites", true, "", words.Say("handover.field_satellites"), "position.satellites"},
		{"hdop", "hdop", true, "", words.Say("handover.field_hdop"), "position.hdop"},
		{"error_m", "error_m", true, "m", words.Say("handover.field_error_m"), "position.error_m"},
		{"stated_m", "stated_m", true, "m", words.Say("handover.field_stated_m"), "position.stated_m"},
		{"grounds", "grounds", false, "", words.Say("handover.field_grounds"), "position.grounds"},
		{"corrections_s", "corr_s", true, "s", words.Say("handover.field_corrections_s"), "position.corrections_s"},
		{"station", "station", false, "", words.Say("handover.field_station"), "position.station"},
		{"antenna_height_m", "ant_height", true, "m", words.Say("handover.field_antenna_height_m"), "position.antenna_height_m"},
		{"averaged_s", "averaged_s", true, "s", words.Say("handover.field_averaged_s"), "position.averaged_s"},
		{"averaged_n", "averaged_n", true, "", words.Say("handover.field_averaged_n"), "position.averaged_n"},
		{"spread_m", "spread_m", true, "m", words.Say("handover.field_spread_m"), "position.spread_m"},
		{"receiver_time", "recv_time", false, "", words.Say("handover.field_receiver_time"), "position.receiver_time"},
		{"receiver_ahead_s", "recv_ahead", true, "s", words.Say("handover.field_receiver_ahead_s"), "position.ahead_s"},
		{"frame", "frame", false, "", words.Say("handover.field_frame"), "position.frame"},
		{"position_recorded", "pos_replay", false, "", words.Say("handover.field_position_recorded"), "position.recorded"},
		{"position_age_s", "pos_age", true, "s", words.Say("handover.field_position_age_s"), "position.age_s"},
		{"instrument", "instrument", false, "", words.Say("handover.field_instrument"), "instrument.line"},
		{"photos", "photos", false, "", words.Say("handover.field_photos"), ""},
		{"versions", "versions", true, "", words.Say("handover.field_versions"), ""},
		{"datum", "datum", false, "", words.Say("handover.field_datum"), ""},
		{"book", "book", false, "", words.Say("handover.field_book"), ""},
		{"entry", "entry", true, "", words.Say("handover.field_entry"), ""},
		{"hash", "hash", false, "", words.Say("handover.field_hash"), ""},
		{"other", "other", false, "", words.Say("handover.field_other"), ""},
	}
})

// values are those of a find in the order of the fields; nil = not stated.
func (f Find) values(fields []Field) []any {
	all := make([]any, len(fields))
	for i, field := range fields {
		all[i] = f.value(field.Name)
	}
	return all
}

func (f Find) value(name string) any {
	own := map[string]string{"id": f.ID, "source": string(f.Source), "kind": f.Kind, "utility": f.Utility}
	if v, is := own[name]; is {
		if v == "" {
			return nil
		}
		return v
	}
	return f.Values[name]
}

// take reads the fields that stand in the properties of a mark.
func (f Find) take(p map[string]any) {
	for _, field := range Fields() {
		if field.from == "" {
			continue
		}
		at, name := p, field.from
		if outer, inner, nested := strings.Cut(name, "."); nested {
			at, _ = p[outer].(map[string]any)
			name = inner
		}
		switch v := at[name].(type) {
		case string:
			if !field.Number {
				f.set(field.Name, v)
			}
		case float64:
			if field.Number {
				f.set(field.Name, v)
			}
		case json.Number: // more digits than a float64 has
			if n, err := v.Float64(); field.Number && err == nil {
				f.set(field.Name, n)
			}
		case bool:
			f.set(field.Name, words.Say("handover.yes_no", "n", map[bool]int{true: 1}[v]))
		}
	}
}
