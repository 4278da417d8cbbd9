package derive

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

func TestStateOfLines(t *testing.T) {
	o := recordOf(t, "w", "water", lineOf(stated("AIP"), at0, at1), lineOf(stated("removed"), at0, at1), lineOf(map[string]any{record.StateProperty: "abandoned"}, at0, at1))
	lines := linesOf(o)
	for i, want := range []string{"abandoned", `state "removed" not understood`, ""} {
		if lines[i].StateText() != want {
			t.Errorf("line %d: %q, want %q", i, lines[i].StateText(), want)
		}
	}
	if p := recordOf(t, "p", "proposed", lineOf(nil, at0, at1), lineOf(stated("in service"), at0, at1)); linesOf(p)[0].State != record.Proposed || linesOf(p)[1].State != record.InService {
		t.Errorf("%+v", linesOf(p))
	}
}

func TestStateOfReadings(t *testing.T) {
	line := func(a, b any) Line {
		return linesOf(recordOf(t, "w", "water", reading("W", at(0, 0), stated(a)), reading("W", at(9, 0), stated(b))))[0]
	}
	if l := line("AIP", "abandoned"); l.State != record.Abandoned || l.Status != "AIP" {
		t.Errorf("%+v", l)
	}
	for _, l := range []Line{line("abandoned", "live"), line("abandoned", nil), line(nil, "proposed")} {
		if l.State != record.NotRead || l.StateText() != "state differs from reading to reading" {
			t.Errorf("%q %q", l.State, l.StateText())
		}
	}
}

// A proposed line tells what somebody means to build: it is no record of what
// lies near the dig area; one that is abandoned shows no line in use. One in any
// other state does.
func TestOnlyWhatIsInUseIsPresent(t *testing.T) {
	area := orb.MultiPolygon{orb.Bound{Min: at(-20, -20), Max: at(20, 20)}.ToPolygon()}
	for status, want := range map[any]bool{"proposed": false, "planned": false, "abandoned": false, "out of service": true, "removed": true, nil: true} {
		o := recordOf(t, "w", "water", lineOf(stated(status), at0, at1))
		r := recordOf(t, "w", "water", reading("W", at(-40, 0), stated(status)), reading("W", at(40, 0), stated(status)))
		for _, one := range []record.Overlay{o, r} {
			if ShowsNear(one, area, 1) != want || ShowsNear(one, nil, 1) != want {
				t.Errorf("%v: shown %v, without an area %v", status, ShowsNear(one, area, 1), ShowsNear(one, nil, 1))
			}
		}
	}
}

// Nothing but the words is otherwise for a line that is not in use: it has its
// zone, its entry, its crossings.
func TestStateTakesNothingAway(t *testing.T) {
	area := orb.MultiPolygon{orb.Bound{Min: at(-20, -20), Max: at(20, 20)}.ToPolygon()}
	of := func(status any) Result {
		a := recordOf(t, "w", "water", lineOf(map[string]any{"status": status, "depth": "3ft", "depth_of": "top", "size": "4 in"}, at(-30, 0), at(30, 0)))
		b := recordOf(t, "g", "gas", lineOf(map[string]any{"depth": "5ft", "depth_of": "top", "size": "2 in"}, at(0, -30), at(0, 30)))
		return From([]record.Overlay{a, b}, area, Options{EachSide: 0.6})
	}
	want := of(nil)
	for _, status := range []string{"in service", "abandoned", "OOS", "removed", "planned"} {
		got := of(status)
		if len(got.Zones) != 2 || !reflect.DeepEqual(got.Zones, want.Zones) || !reflect.DeepEqual(got.Entries, want.Entries) || len(got.Entries) != 2 {
			t.Errorf("%s: zones or entries differ", status)
		}
		c, o := got.Crossings[0], want.Crossings[0]
		if c.Kind != o.Kind || !reflect.DeepEqual(c.Depths, o.Depths) || !strings.HasPrefix(c.Relation, o.Relation) {
			t.Errorf("%s: %+v", status, c)
		}
		if told := strings.TrimPrefix(c.Relation, o.Relation); (status == "planned") != (told == `; the proposed line water "w/1" is not built as far as the record tells`) || status != "planned" && told != "" {
			t.Errorf("%s: %q", status, told)
		}
	}
}

func TestProposedCrossings(t *testing.T) {
	if c := crossed(t, stated("design"), stated("future")); !strings.HasSuffix(c.Relation, "; both lines are proposed, not built as far as the records tell") || c.States != [2]record.State{record.Proposed, record.Proposed} {
		t.Errorf("%+v", c)
	}
	dig := recordOf(t, "p", "proposed", lineOf(nil, at(-20, 0), at(20, 0)))
	c := newCrossings(append(linesOf(dig), linesOf(recordOf(t, "w", "water", lineOf(stated("AIP"), at(0, -20), at(0, 20))))...), 15)[0]
	if !strings.HasSuffix(c.Relation, "; the proposed line is not built as far as the record tells") || c.States != [2]record.State{record.Proposed, record.Abandoned} {
		t.Errorf("%+v", c)
	}
}

func TestStatesAreCounted(t *testing.T) {
	of := func(all ...any) []Line {
		var features []geojson.Feature
		for _, status := range all {
			features = append(features, lineOf(stated(status), at0, at1))
		}
		return linesOf(recordOf(t, "w", "water", features...))
	}
	if said := StatesText(of(nil, "live", nil)); said != "" {
		t.Errorf("there is nothing to tell, and it says %q", said)
	}
	said := StatesText(of("AIP", "planned", "removed", "abandoned", nil, "live", "idle"))
	if want := "State of 7 lines in the records: 2 abandoned, 1 out of service, 1 proposed, 1 in service, 1 not stated and 1 not understood."; !strings.HasPrefix(said, want) || !strings.Contains(said, "Treat every one as live") {
		t.Errorf("%q", said)
	}
	if k := From([]record.Overlay{recordOf(t, "w", "water", lineOf(stated("planned"), at0, at1), lineOf(nil, at0, at1))}, nil, Options{}); k.Statistics[0].Lines != 2 || k.Statistics[0].Proposed != 1 {
		t.Errorf("%+v", k.Statistics)
	}
}

// A state travels with the line, and what a stranger wrote for one is taken
// for words that are not understood.
func TestStateReadsBack(t *testing.T) {
	o := recordOf(t, "w", "water", lineOf(stated("AIP"), at(-5, 0), at(5, 0)), lineOf(stated("planned"), at(0, -5), at(0, 5)))
	o.Features = append(o.Features, reading("K", at(20, 0), stated("idle")), reading("K", at(30, 0), stated("idle")))
	p, err := From([]record.Overlay{o}, nil, Options{}).Encode()
	if err != nil {
		t.Fatal(err)
	}
	k, err := Decode(p)
	if err != nil || k.Lines[0].State != record.Abandoned || k.Lines[0].Status != "AIP" || k.Crossings[0].States != [2]record.State{record.Abandoned, record.Proposed} || k.Lines[2].State != record.OutOfService {
		t.Fatal(err, k.Lines)
	}
	for _, want := range []string{`"states":["abandoned","proposed"]`, `"status_as_read":"out of service"`} {
		if !bytes.Contains(p.Features, []byte(want)) {
			t.Errorf("the map is not told %s", want)
		}
	}
	p.Facts = bytes.ReplaceAll(p.Facts, []byte(`"state":"abandoned"`), []byte(`"state":"gone for good"`))
	if k, err = Decode(p); err != nil || k.Lines[0].StateText() != `state "AIP" not understood` {
		t.Errorf("%v: %q", err, k.Lines[0].StateText())
	}
}

// A test hole is a fact of one place, also where its record states no level: no
// depth is worked out from it, and at its place it is told as what it is.
func TestDepthOfATestHoleStaysThere(t *testing.T) {
	hole := map[string]any{"kind": "test hole", "depth_m": 1.0, "depth_of": "top"}
	l := linesOf(recordOf(t, "w", "water", reading("W", at(0, 0), hole), reading("W", at(10, 0), map[string]any{"depth_m": 2.0, "depth_of": "top"})))[0]
	if d := l.depthAt(0, 15); d.Basis != record.TestHole || *d.M != 1 || d.Of != Top {
		t.Errorf("%+v", d)
	}
	if d := l.depthAt(5, 15); d.M != nil {
		t.Errorf("%+v", d)
	}
	if d := l.depthAt(10, 15); d.Basis != "reading" {
		t.Errorf("%+v", d)
	}
}

// A test hole dug where a locator read is no duplicate; two test holes there are.
func TestTestHoleIsNoDuplicate(t *testing.T) {
	hole, read := map[string]any{"kind": "test hole", "depth_m": 1.0}, map[string]any{"depth_m": 1.1, "frequency_hz": 8192.0}
	for n, o := range []record.Overlay{
		recordOf(t, "w", "water", reading("W", at(0, 0), hole), reading("W", at(0, 0), read)),
		recordOf(t, "w", "water", reading("W", at(0, 0), hole), reading("W", at(0, 0), hole)),
	} {
		if got := len(duplicates(o, 0.05, "")); got != n {
			t.Errorf("%d duplicates, want %d", got, n)
		}
	}
}

func TestTestHolesAreCountedApart(t *testing.T) {
	hole, read := map[string]any{"kind": "test hole", "depth_m": 1.0}, map[string]any{"depth_m": 1.1}
	o := recordOf(t, "w", "water", reading("", at(0, 0), hole), reading("", at(1, 0), read), reading("", at(2, 0), map[string]any{"type": "pothole", "depth_m": 1.0}))
	if s := statistics([]record.Overlay{o}, nil)[0]; s.TestHoles != 2 || s.Readings != 1 || s.WithDepth != 1 {
		t.Errorf("%+v", s)
	}
}
