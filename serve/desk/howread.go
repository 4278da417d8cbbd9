package desk

import (
	"errors"
	"net/url"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record/intake"
	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// asked is one thing that a dropped file does not say itself.
type asked struct {
	Key     string          `json:"key"` // "layer" or "epsg"
	What    string          `json:"what"`
	Choices []intake.Choice `json:"choices"` // none = it is typed
}

// howOf is what was answered of a file.
func howOf(q url.Values) (how vector.How, err error) {
	if text := strings.TrimSpace(q.Get("epsg")); text != "" {
		system, err := crs.Stated(text)
		if err != nil {
			return how, err
		}
		how.EPSG = system.Code
	}
	how.Layers = q["layer"]
	return how, nil
}

// askHow is what has to be said of a file that cannot be read as it is; nil when nothing
// that is said would help. Of the systems used near the place that is looked at, those
// that put the file there are offered; at is "LON,LAT".
func askHow(f vector.File, err error, at []string) *asked {
	noSystem := errors.Is(err, vector.RuleProjection) && f.How.EPSG == 0
	if !noSystem && !errors.Is(err, vector.RuleLayer) {
		return nil
	}
	if layers, err := vector.Layers(f); err == nil && len(layers) > 1 && len(f.How.Layers) == 0 {
		out := &asked{Key: "layer", What: words.Say("draw.layers", "n", len(layers))}
		for _, l := range layers {
			text := l.Name
			if l.Shapes != "" {
				text += " (" + l.Shapes + ")"
			}
			out.Choices = append(out.Choices, intake.Choice{Value: l.Name, Text: text})
		}
		out.Choices = append(out.Choices, intake.Choice{Value: "*", Text: words.Say("intake.layer_all")})
		return out
	}
	if f.How.EPSG = anyGrid; !noSystem || vector.CheckHow(f) != nil { // its format says that it is in degrees
		return nil
	}
	out := &asked{Key: "epsg", What: words.Say("draw.no_system"), Choices: []intake.Choice{}}
	for _, s := range systemsAt(f, at) {
		out.Choices = append(out.Choices, intake.Choice{Value: strconv.Itoa(s.Code), Text: s.Text()})
	}
	return out
}

// anyGrid is a system that is not in degrees: UTM zone 13.
const anyGrid = 26913

// nearDegrees is how far from the place that is looked at a file may lie, in degrees (the
// project's own choice, no source): a wrong zone is farther off.
const nearDegrees = 0.5

func systemsAt(f vector.File, at []string) []crs.System {
	var place orb.Point
	if len(at) != 1 {
		return nil
	}
	lon, lat, _ := strings.Cut(at[0], ",")
	for i, text := range []string{lon, lat} {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= -180 && v <= 180) {
			return nil
		}
		place[i] = v
	}
	return intake.SystemsFor(f, place, func(features []geojson.Feature) bool {
		for _, x := range features {
			if x.Geometry != nil && x.Geometry.Bound().Pad(nearDegrees).Contains(place) {
				return true
			}
		}
		return false
	})
}
