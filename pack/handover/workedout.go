package handover

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// workOut gives the lines through the readings of each run. A line says no more than the
// least of its readings: what one of them does not state, the line does not state.
func workOut(marks []fieldbook.Mark, found []Find, units string) (all []Find) {
	byLine := map[string][]Find{}
	for _, f := range found {
		if f.Kind == fieldbook.Reading && f.text("run") != "" {
			key := f.Utility + " " + f.text("run")
			byLine[key] = append(byLine[key], f)
		}
	}
	result := derive.From(fieldbook.Overlays(marks), nil, derive.Options{})
	for _, l := range result.Lines {
		readings := byLine[l.Utility+" "+l.Name]
		if l.Basis == "record" || len(l.Path) < 2 || len(readings) == 0 {
			continue
		}
		f := Find{
			ID: "line-" + l.Name, Source: WorkedOut, Kind: words.Say("handover.joined"), Utility: l.Utility,
			Geometry: orb.MultiLineString{l.Path}, Values: map[string]any{},
		}
		f.set("line", l.Name)
		f.set("run", l.Name)
		f.set("accuracy_m", worst(readings, "accuracy_m"))
		f.set("quality_level", least(readings))
		f.set("recorded", latest(readings))
		f.set("who", strings.Join(distinct(readings, "who"), "; "))
		f.set("method", strings.Join(distinct(readings, "method"), "; "))
		f.frame(readings)
		f.set("book", strings.Join(distinct(readings, "book"), "; "))
		f.set("limits", words.Say("handover.limits_joined", "n", len(l.Path), "gap", measure.Distance(widest(l.Path)).In(units)))
		f.limitJoined(readings)
		all = append(all, f)
	}
	return all
}

// frame states the frame of a line: that of its readings, where it is one.
func (f *Find) frame(readings []Find) {
	same := true
	for _, r := range readings {
		same = same && r.text("frame") == readings[0].text("frame")
		if p, ok := r.Geometry.(orb.Point); ok && !(Ground{epoch: firstEpoch}).moves(r) {
			f.still = append(f.still, p)
		}
	}
	if same {
		f.set("frame", readings[0].text("frame"))
	} else {
		f.mixed = true
	}
}

// worst is the largest of a value; nil where one reading does not state it.
func worst(readings []Find, name string) (most *float64) {
	for _, r := range readings {
		v := r.number(name)
		if v == nil {
			return nil
		}
		if most == nil || *v > *most {
			most = v
		}
	}
	return most
}

// least is the least of the quality levels; "" where one reading states none.
func least(readings []Find) (level string) {
	for _, r := range readings {
		own := r.text("quality_level")
		if own == "" {
			return ""
		}
		level = max(level, own)
	}
	return level
}

func latest(readings []Find) (at string) {
	for _, r := range readings {
		at = max(at, r.text("recorded"))
	}
	return at
}

func distinct(readings []Find, name string) (all []string) {
	for _, r := range readings {
		if v := r.text(name); v != "" && !slices.Contains(all, v) {
			all = append(all, v)
		}
	}
	return all
}

func widest(path orb.LineString) (far float64) {
	for i := range path[:len(path)-1] {
		far = max(far, geodesic.Distance(path[i], path[i+1]))
	}
	return far
}

// rival tells another version of a mark in words.
func rival(m fieldbook.Mark, v fieldbook.Version) string {
	what := words.Say("handover.rival_struck")
	if v.Text.Feature != nil {
		f := Find{Values: map[string]any{}, Kind: m.Kind(), Geometry: v.Text.Feature.Geometry}
		f.take(v.Text.Feature.Properties)
		what = strings.Join([]string{f.placeWords(), f.depth(), f.text("note")}, " · ")
	}
	return fmt.Sprintf("%s · %s · %s · %s", m.ID, stampOf(v.Text.Written()), v.Text.Who, what)
}

// placeWords is where a find lies, in degrees.
func (f Find) placeWords() string {
	if f.Geometry == nil {
		return words.Say("handover.no_place")
	}
	p := f.Geometry.Bound().Center()
	return decimal(p[1], 7) + ", " + decimal(p[0], 7)
}
