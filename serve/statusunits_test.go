package serve

import (
	"strings"
	"testing"

	"groundsheet/serve/position"
)

// TestUnits: lengths are in the units of the jobs, metric where those differ.
// Another program's file has none and counts as metric.
func TestUnits(t *testing.T) {
	one, other := makePack(t, "Site one"), hostileFile(t, bareTables, quarters(t))
	for want, paths := range map[string][]string{"us": {one}, "metric": {one, other}} {
		s, err := Open(t.Context(), paths, Options{Page: page, Look: -1})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.units(); got != want {
			t.Errorf("%d packs: %q, want %q", len(paths), got, want)
		}
		_ = s.Close()
	}
	p := positionEvent{Phase: position.PhaseFix, Fix: &fixEvent{Kind: position.Autonomous, Error: maybe(2.5)}}
	for units, want := range map[string]string{"us": "within 8.2 ft (95%)", "metric": "within 2.5 m (95%)"} {
		if got := positionState(p, units); !strings.Contains(got, want) {
			t.Errorf("%q: %q, want %q", units, got, want)
		}
	}
}
