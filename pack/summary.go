package pack

import (
	"cmp"
	"context"
	"encoding/json"
	"math"
	"reflect"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// Summary is what a pack says of one overlay without its features. Empty
// texts and nil mean "not stated".
type Summary struct {
	ID           string           `json:"id"`
	Title        string           `json:"title"`
	Utility      string           `json:"utility"`
	UtilityName  string           `json:"utility_name"`
	Letter       string           `json:"letter"`
	Colour       string           `json:"colour"`
	Casing       string           `json:"casing"`
	QualityLevel string           `json:"quality_level"`
	Recorded     string           `json:"recorded"`
	Owner        string           `json:"owner"`
	Record       string           `json:"record"`
	AccuracyM    *float64         `json:"accuracy_m"`
	NoAccuracy   int              `json:"no_accuracy"` // features that state none, nor does the record as a whole
	Datum        string           `json:"datum"`       // as stated
	Features     int              `json:"features"`
	Readings     int              `json:"readings"`
	TestHoles    int              `json:"test_holes"` // not among the readings
	Unlocated    int              `json:"unlocated"`
	Outside      int              `json:"outside"` // features wholly outside the packed box
	Note         string           `json:"note"`
	LeftOut      []record.LeftOut `json:"left_out,omitempty"` // rows of its table that the map manager left out
	Bounds       tiles.Box        `json:"bounds"`
}

func summarize(o record.Overlay, packed tiles.Box) Summary {
	s := Summary{
		ID: o.ID, Title: o.Title, Utility: o.Kind.Code, UtilityName: o.Kind.Name, Letter: o.Kind.Letter,
		Colour: o.Kind.Color, Casing: o.Kind.Casing, QualityLevel: o.QualityLevel, Recorded: o.Recorded,
		Owner: o.Owner, Record: o.Record, Datum: o.Datum, Features: len(o.Features), Readings: o.Readings(),
		TestHoles: o.TestHoles(), Unlocated: o.Unlocated, Outside: o.Outside(packed),
		Note: o.Note, Bounds: o.Bounds(), LeftOut: o.LeaveOut,
	}
	if o.Accuracy != nil {
		m := o.Accuracy.Meters()
		s.AccuracyM = &m
	} else {
		s.NoAccuracy = o.NoAccuracy()
	}
	return s
}

// PackedOverlay is what a pack holds of a record: a row of its overlays.
type PackedOverlay struct {
	ID       string
	Summary  string // JSON of its [Summary]
	Features string // GeoJSON
}

// Overlays are records as a pack of a box in degrees holds them.
func Overlays(records []record.Overlay, packed tiles.Box) ([]PackedOverlay, error) {
	var all []PackedOverlay
	for _, r := range records {
		summary, err := json.Marshal(summarize(r, packed))
		if err != nil {
			return nil, err
		}
		var features strings.Builder
		if err := r.WriteGeoJSON(&features); err != nil {
			return nil, err
		}
		all = append(all, PackedOverlay{r.ID, string(summary), features.String()})
	}
	return all, nil
}

// OverlaySeals gives the seal of each overlay by the name of its part.
func OverlaySeals(overlays []PackedOverlay) map[string]string {
	seals := map[string]string{}
	for i, o := range overlays {
		seals["overlay "+o.ID] = rowSeal(int64(i), o.ID, o.Summary, o.Features)
	}
	return seals
}

// written is how far a coordinate of a pack may lie from the one that its
// summary was computed from, in degrees: numbers are written with nine decimals.
const written = 2e-9

// Tells reports whether a summary says what its features, its utility and the
// packed box say.
func (s Summary) Tells(o record.Overlay, packed tiles.Box) bool {
	again := summarize(o, packed)
	most, least := o.Outside(grown(packed, -written)), o.Outside(grown(packed, written))
	near := s.Outside >= least && s.Outside <= most && boxesNear(s.Bounds, again.Bounds)
	again.Outside, again.Bounds = s.Outside, s.Bounds
	again.Unlocated = s.Unlocated // of features that were left behind
	return near && reflect.DeepEqual(again, s)
}

func grown(b tiles.Box, by float64) tiles.Box {
	return tiles.Box{West: b.West - by, South: b.South - by, East: b.East + by, North: b.North + by}
}

func boxesNear(a, b tiles.Box) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= written }
	return near(a.West, b.West) && near(a.South, b.South) && near(a.East, b.East) && near(a.North, b.North)
}

// ReadOverlay reads an overlay back as the import left it: depths are meters already.
// A fault of the kind [NotPack] says that it is damaged.
func (p *Pack) ReadOverlay(ctx context.Context, s Summary) (record.Overlay, error) {
	text, err := p.OverlayGeoJSON(ctx, s.ID)
	if err != nil {
		return record.Overlay{}, p.unreadable("overlay "+s.ID, err)
	}
	m := record.Meta{
		File: cmp.Or(s.Title, "overlay "+s.ID), Title: s.Title, Utility: s.Utility, QualityLevel: s.QualityLevel,
		Recorded: s.Recorded,
		Owner:    s.Owner, Record: s.Record, Note: s.Note, Datum: s.Datum, LeaveOut: s.LeftOut,
	}
	if s.AccuracyM != nil {
		d := measure.Distance(*s.AccuracyM)
		m.Accuracy = &d
	}
	features, err := geojson.Read(text)
	if err != nil {
		return record.Overlay{}, p.unreadable("overlay "+s.ID, err)
	}
	kind, err := record.FindUtility(s.Utility)
	if err != nil {
		return record.Overlay{}, p.unreadable("overlay "+s.ID, err)
	}
	o := record.Overlay{Meta: m, ID: s.ID, Kind: kind, Unlocated: s.Unlocated}
	for _, f := range features {
		if f.Geometry != nil {
			o.Features = append(o.Features, f)
		}
	}
	return o, nil
}
