package record

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
	"testing/quick"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

func stated(status any) map[string]any { return map[string]any{"status": status} }

func TestStateOfWords(t *testing.T) {
	for status, want := range map[string]State{
		"in service": InService, "In-Service": InService, "ACTIVE": InService, " live ": InService,
		"abandoned": Abandoned, "Abandoned in place": Abandoned, "abandoned_in_place": Abandoned, "AIP": Abandoned, "retired": Abandoned,
		"out of service": OutOfService, "OOS": OutOfService, "Out-of-Service.": OutOfService, "inactive": OutOfService, "idle": OutOfService,
		"proposed": Proposed, "Planned": Proposed, "design": Proposed, "FUTURE": Proposed,
		"": "", "unknown": "", "not stated": "",
		"removed": NotRead, "QX7": NotRead, "to be abandoned": NotRead, "not abandoned": NotRead, "not active": NotRead, "proposed, now live": NotRead, "under construction": NotRead, "5": NotRead,
	} {
		if got := stateOf(status); got != want {
			t.Errorf("%q: %q, want %q", status, got, want)
		}
	}
}

// Whatever a record says, the state is one of those that are told apart, and
// words that only hold a known one are not understood.
func TestStateOfAnyWords(t *testing.T) {
	known := map[State]bool{"": true, InService: true, OutOfService: true, Abandoned: true, Proposed: true, NotRead: true}
	if err := quick.Check(func(s string) bool { return known[stateOf(s)] && stateOf("perhaps "+s+" abandoned") == NotRead }, nil); err != nil {
		t.Error(err)
	}
}

func TestStateIsImportedBesideTheWords(t *testing.T) {
	o := record(t, "w", "water", lineOf(stated("AIP"), at0, at1), lineOf(map[string]any{"status": "removed", StateProperty: "in service", KindProperty: TestHole}, at0, at1),
		lineOf(map[string]any{StateProperty: "abandoned"}, at0, at1))
	for i, want := range []any{"abandoned", "not understood", nil} {
		if p := o.Features[i].Properties; p[StateProperty] != want || p[KindProperty] != nil {
			t.Errorf("feature %d: %v", i, p)
		}
	}
	if p := o.Features[0].Properties; p["status"] != "AIP" {
		t.Errorf("the record's own words are gone: %v", p)
	}
	lines := linesOf(o)
	for i, want := range []string{"abandoned", `state "removed" not understood`, ""} {
		if lines[i].StateTold() != want {
			t.Errorf("line %d: %q, want %q", i, lines[i].StateTold(), want)
		}
	}
	if len(o.Findings) != 1 || o.Findings[0].Kind != "state" || o.Findings[0].Severity != Warning || !strings.Contains(o.Findings[0].Detail, `"removed"`) {
		t.Errorf("%+v", o.Findings)
	}
	if p := record(t, "p", "proposed", lineOf(nil, at0, at1), lineOf(stated("in service"), at0, at1)); linesOf(p)[0].State != Proposed || linesOf(p)[1].State != InService {
		t.Errorf("%+v", linesOf(p))
	}
}

func TestUnreadStatesAreBounded(t *testing.T) {
	var all []geojson.Feature
	for i := range 13 {
		all = append(all, lineOf(stated(strings.Repeat("x", i+1)), at0, at1), lineOf(stated(strings.Repeat("x", i+1)), at0, at1))
	}
	o := record(t, "w", "water", all...)
	if n := len(o.Findings); n != 11 || !strings.Contains(o.Findings[0].Detail, "2 features") || !strings.Contains(o.Findings[10].Detail, "3 more states are") {
		t.Errorf("%d findings: %+v", n, o.Findings)
	}
}

func TestStateOfReadings(t *testing.T) {
	line := func(a, b any) Line {
		return linesOf(record(t, "w", "water", reading("W", at(0, 0), stated(a)), reading("W", at(9, 0), stated(b))))[0]
	}
	if l := line("AIP", "abandoned"); l.State != Abandoned || l.Status != "AIP" {
		t.Errorf("%+v", l)
	}
	for _, l := range []Line{line("abandoned", "live"), line("abandoned", nil), line(nil, "proposed")} {
		if l.State != NotRead || l.StateTold() != "state differs from reading to reading" {
			t.Errorf("%q %q", l.State, l.StateTold())
		}
	}
}

// A proposed line tells what somebody means to build: it is no record of what
// lies near the dig area; one that is abandoned shows no line in use. One in any
// other state does.
func TestOnlyWhatIsInUseIsPresent(t *testing.T) {
	area := orb.MultiPolygon{orb.Bound{Min: at(-20, -20), Max: at(20, 20)}.ToPolygon()}
	for status, want := range map[any]bool{"proposed": false, "planned": false, "abandoned": false, "out of service": true, "removed": true, nil: true} {
		o := record(t, "w", "water", lineOf(stated(status), at0, at1))
		r := record(t, "w", "water", reading("W", at(-40, 0), stated(status)), reading("W", at(40, 0), stated(status)))
		for _, one := range []Overlay{o, r} {
			if one.ShowsNear(area, 1) != want || one.ShowsNear(nil, 1) != want {
				t.Errorf("%v: shown %v, without an area %v", status, one.ShowsNear(area, 1), one.ShowsNear(nil, 1))
			}
		}
	}
}

// Nothing but the words is otherwise for a line that is not in use: it has its
// zone, its entry, its crossings.
func TestStateTakesNothingAway(t *testing.T) {
	area := orb.MultiPolygon{orb.Bound{Min: at(-20, -20), Max: at(20, 20)}.ToPolygon()}
	of := func(status any) Derived {
		a := record(t, "w", "water", lineOf(map[string]any{"status": status, "depth": "3ft", "depth_of": "top", "size": "4 in"}, at(-30, 0), at(30, 0)))
		b := record(t, "g", "gas", lineOf(map[string]any{"depth": "5ft", "depth_of": "top", "size": "2 in"}, at(0, -30), at(0, 30)))
		return Compute([]Overlay{a, b}, area, Options{EachSide: 0.6})
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
	if c := crossed(t, stated("design"), stated("future")); !strings.HasSuffix(c.Relation, "; both lines are proposed, not built as far as the records tell") || c.States != [2]State{Proposed, Proposed} {
		t.Errorf("%+v", c)
	}
	dig := record(t, "p", "proposed", lineOf(nil, at(-20, 0), at(20, 0)))
	c := Crossings(append(linesOf(dig), linesOf(record(t, "w", "water", lineOf(stated("AIP"), at(0, -20), at(0, 20))))...), 15)[0]
	if !strings.HasSuffix(c.Relation, "; the proposed line is not built as far as the record tells") || c.States != [2]State{Proposed, Abandoned} {
		t.Errorf("%+v", c)
	}
}

func TestStatesAreCounted(t *testing.T) {
	of := func(all ...any) []Line {
		var features []geojson.Feature
		for _, status := range all {
			features = append(features, lineOf(stated(status), at0, at1))
		}
		return linesOf(record(t, "w", "water", features...))
	}
	if said := StatesTold(of(nil, "live", nil)); said != "" {
		t.Errorf("there is nothing to tell, and it says %q", said)
	}
	said := StatesTold(of("AIP", "planned", "removed", "abandoned", nil, "live", "idle"))
	if want := "State of 7 lines in the records: 2 abandoned, 1 out of service, 1 proposed, 1 in service, 1 not stated and 1 not understood."; !strings.HasPrefix(said, want) || !strings.Contains(said, "Treat every one as live") {
		t.Errorf("%q", said)
	}
	if k := Compute([]Overlay{record(t, "w", "water", lineOf(stated("planned"), at0, at1), lineOf(nil, at0, at1))}, nil, Options{}); k.Statistics[0].Lines != 2 || k.Statistics[0].Proposed != 1 {
		t.Errorf("%+v", k.Statistics)
	}
}

// A state travels with the line, and what a stranger wrote for one is taken
// for words that are not understood.
func TestStateReadsBack(t *testing.T) {
	o := record(t, "w", "water", lineOf(stated("AIP"), at(-5, 0), at(5, 0)), lineOf(stated("planned"), at(0, -5), at(0, 5)))
	o.Features = append(o.Features, reading("K", at(20, 0), stated("idle")), reading("K", at(30, 0), stated("idle")))
	p, err := Compute([]Overlay{o}, nil, Options{}).Write()
	if err != nil {
		t.Fatal(err)
	}
	k, err := ReadDerived(p)
	if err != nil || k.Lines[0].State != Abandoned || k.Lines[0].Status != "AIP" || k.Crossings[0].States != [2]State{Abandoned, Proposed} || k.Lines[2].State != OutOfService {
		t.Fatal(err, k.Lines)
	}
	for _, want := range []string{`"states":["abandoned","proposed"]`, `"status_as_read":"out of service"`} {
		if !bytes.Contains(p.Features, []byte(want)) {
			t.Errorf("the map is not told %s", want)
		}
	}
	p.Facts = bytes.ReplaceAll(p.Facts, []byte(`"state":"abandoned"`), []byte(`"state":"gone for good"`))
	if k, err = ReadDerived(p); err != nil || k.Lines[0].StateTold() != `state "AIP" not understood` {
		t.Errorf("%v: %q", err, k.Lines[0].StateTold())
	}
}
