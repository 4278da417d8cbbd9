package pack

import (
	"bytes"

	"groundsheet/pack/overlay"
	"groundsheet/tiles"
)

// Summary is what a pack says of one overlay without its features. Empty
// texts and nil mean "not stated".
type Summary struct {
	ID           string            `json:"id"`
	Title        string            `json:"title"`
	Utility      string            `json:"utility"`
	UtilityName  string            `json:"utility_name"`
	Letter       string            `json:"letter"`
	Colour       string            `json:"colour"`
	Casing       string            `json:"casing"`
	QualityLevel string            `json:"quality_level"`
	Recorded     string            `json:"recorded"`
	Owner        string            `json:"owner"`
	Record       string            `json:"record"`
	AccuracyM    *float64          `json:"accuracy_m"`
	NoAccuracy   int               `json:"no_accuracy"` // features that state none, nor does the record as a whole
	Datum        string            `json:"datum"`       // as stated
	Features     int               `json:"features"`
	Readings     int               `json:"readings"`
	Unlocated    int               `json:"unlocated"`
	Outside      int               `json:"outside"` // features wholly outside the packed box
	Note         string            `json:"note"`
	LeftOut      []overlay.LeftOut `json:"left_out,omitempty"` // rows of its table that the map manager left out
	Bounds       tiles.Box         `json:"bounds"`
}

func summarize(o overlay.Overlay, packed tiles.Box) Summary {
	s := Summary{
		ID: o.ID, Title: o.Title, Utility: o.Kind.Code, UtilityName: o.Kind.Name, Letter: o.Kind.Letter,
		Colour: o.Kind.Colour, Casing: o.Kind.Casing, QualityLevel: o.QualityLevel, Recorded: o.Recorded,
		Owner: o.Owner, Record: o.Record, Datum: o.Datum, Features: len(o.Features), Readings: o.Readings(), Unlocated: o.Unlocated, Outside: o.Outside(packed),
		Note: o.Note, Bounds: o.Bounds(), LeftOut: o.LeaveOut,
	}
	if o.Accuracy != nil {
		m := o.Accuracy.Metres()
		s.AccuracyM = &m
	} else {
		s.NoAccuracy = o.NoAccuracy()
	}
	return s
}

func featuresText(o overlay.Overlay) (string, error) {
	var b bytes.Buffer
	err := o.WriteGeoJSON(&b)
	return b.String(), err
}

// OverlaySeals gives the hash of each overlay as a pack would hold it.
func OverlaySeals(overlays []overlay.Overlay) (map[string]string, error) {
	seals := map[string]string{}
	for _, o := range overlays {
		text, err := featuresText(o)
		if err != nil {
			return nil, err
		}
		seals["overlay "+o.ID] = Seal([]byte(text))
	}
	return seals, nil
}
