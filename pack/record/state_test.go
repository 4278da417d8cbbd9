package record

import (
	"strings"
	"testing"
	"testing/quick"

	"groundsheet/tiles/geojson"
)

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
	o := recordOf(t, "w", "water", lineOf(stated("AIP"), at0, at1), lineOf(map[string]any{"status": "removed", StateProperty: "in service", KindProperty: TestHole}, at0, at1),
		lineOf(map[string]any{StateProperty: "abandoned"}, at0, at1))
	for i, want := range []any{"abandoned", "not understood", nil} {
		if p := o.Features[i].Properties; p[StateProperty] != want || p[KindProperty] != nil {
			t.Errorf("feature %d: %v", i, p)
		}
	}
	if p := o.Features[0].Properties; p["status"] != "AIP" {
		t.Errorf("the record's own words are gone: %v", p)
	}
	if len(o.Findings) != 1 || o.Findings[0].Kind != "state" || o.Findings[0].Severity != Warning || !strings.Contains(o.Findings[0].Detail, `"removed"`) {
		t.Errorf("%+v", o.Findings)
	}
}

func TestUnreadStatesAreBounded(t *testing.T) {
	var all []geojson.Feature
	for i := range 13 {
		all = append(all, lineOf(stated(strings.Repeat("x", i+1)), at0, at1), lineOf(stated(strings.Repeat("x", i+1)), at0, at1))
	}
	o := recordOf(t, "w", "water", all...)
	if n := len(o.Findings); n != 11 || !strings.Contains(o.Findings[0].Detail, "2 features") || !strings.Contains(o.Findings[10].Detail, "3 more states are") {
		t.Errorf("%d findings: %+v", n, o.Findings)
	}
}
