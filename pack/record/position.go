package record

import (
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// PositionFrame is the frame of reference of a position of a field book, given by its
// properties; "" = not known. What satellites alone give, and what a phone gives of itself,
// is WGS 84, and so is the map that a cross is put on; corrections move a position into the
// frame of their base.
func PositionFrame(of func(property string) string) string {
	from, kind := of("from"), of("kind")
	if from == "cross" || from == "receiver" && (kind == "autonomous" || kind == "phone") {
		return "WGS 84"
	}
	return of("frame")
}

// baseFindings says of how many positions the frame of their base is not stated.
func (o Overlay) baseFindings(opts SanityOptions) []Finding {
	n := o.count(func(f geojson.Feature) bool {
		of := func(name string) string { return Text(f.Properties, "position_"+name) }
		kind := of("kind")
		return of("from") == "receiver" && (kind == "differential" || kind == "rtk-float" || kind == "rtk-fixed") && PositionFrame(of) == ""
	})
	if n == 0 || o.Datum != "" {
		return nil
	}
	return []Finding{{"datum", Note, o.File, 0, words.Say("datum.base_not_stated", "n", n, "all", len(o.Features), "off", roughly(3, 1, opts.Units))}}
}
