package handover

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// located are readings of one run whose positions are live, recorded, old, and without a
// frame.
func located() []mark {
	of := func(name string, minutes int, at string, change map[string]any) mark {
		position := map[string]any{"from": "receiver", "kind": "rtk-fixed", "error_m": 0.03, "stated_m": 0.03, "frame": "NAD83(2011)", "recorded": false, "age_s": 0.4}
		for k, v := range change {
			position[k] = v
		}
		return mark{name: name, minutes: minutes, geometry: `{"type":"Point","coordinates":` + at + `}`, properties: map[string]any{
			"kind": "reading", "utility": "water", "line": idOf("run"), "depth_m": 1.0414, "depth_as_typed": "41 in", "position": position}}
	}
	return []mark{
		of("live", 0, "[-140.4967,40.4986]", nil),
		of("recorded", 1, "[-140.4967,40.49865]", map[string]any{"recorded": true}),
		of("old", 2, "[-140.4967,40.4987]", map[string]any{"age_s": 42}),
		of("frameless", 3, "[-140.4967,40.49875]", map[string]any{"frame": nil}),
	}
}

// TestWhatAPositionLeavesOpenIsSaid: in every form, in the text to be read first, and in the
// report's tables.
func TestWhatAPositionLeavesOpenIsSaid(t *testing.T) {
	book, to := bookOf(t, located()), filepath.Join(t.TempDir(), "handover")
	handed(t, book, to, Options{Forms: []Form{CSV, KML}})
	for file, wanted := range map[string][]string{
		ReadFirst:            {"Doubtful", "1 find: position recorded: how far off is not known", "1 find: position more than 5 s old", "1 find: frame of the corrections not stated"},
		"valve-12-found.csv": {"Position recorded: how far off is not known.", "Position 42 s old", "Of its readings, 1 find: position recorded"},
		"valve-12-found.kml": {"Position recorded: how far off is not known."},
	} {
		text, err := os.ReadFile(filepath.Join(to, file))
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range wanted {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s does not say %q:\n%s", file, want, text)
			}
		}
	}
	m := materialOf(t, book)
	for i, want := range []string{"1.18 in (receiver, RTK fixed)", "position recorded: how far off is not known (receiver, RTK fixed)", "position 42 s old",
		"1.18 in (receiver, RTK fixed); frame of the corrections not stated"} {
		if row := findTable(m, Options{Units: "us"}).Rows[i]; !strings.Contains(row[4], want) || i == 0 && row[4] != want {
			t.Errorf("%d: %q", i, row[4])
		}
	}
	for _, f := range m.found[:3] {
		elsewhere := f.ID != idOf("live")
		for _, name := range []string{"accuracy_m", "error_m", "stated_m"} { // no column reads as an accuracy
			if v := f.number(name); (v == nil) != elsewhere {
				t.Errorf("%s, %s: %v", f.ID, name, v)
			}
		}
		if evidence := f.text("other") == `{"position_then":{"error_m":0.03,"stated_m":0.03}}`; evidence != elsewhere {
			t.Errorf("%s: %s", f.ID, f.text("other"))
		}
	}
	how := ""
	for _, row := range howGood(m, Options{Units: "us"}).Rows {
		how += strings.Join(row, " | ") + "\n"
	}
	if !strings.Contains(how, "receiver; position recorded: how far off is not known | 1 |") {
		t.Error(how)
	}
}

func materialOf(t *testing.T, book string) *material {
	t.Helper()
	m, err := gather(t.Context(), []string{book})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = m.close() })
	if err := m.narrow(t.Context(), Options{}); err != nil {
		t.Fatal(err)
	}
	return m
}

// TestDepthsHaveOneForm: in the job's units; what was typed is told where it is another depth.
func TestDepthsHaveOneForm(t *testing.T) {
	for _, c := range []struct {
		m          any
		typed      string
		us, metric string
	}{
		{1.0414, "41 in", "3 ft 5 in", "1.04 m"},
		{1.7526, "5 ft 9 in", "5 ft 9 in", "1.75 m"},
		{1.02, "3 ft 4 in", "3 ft 4 in", "1.02 m"},
		{2.016, "3 ft 4 in", "6 ft 7 in (typed: 3 ft 4 in)", "2.02 m (typed: 3 ft 4 in)"},
		{1.0, "about 1", "3 ft 3 in (typed: about 1)", "1.00 m (typed: about 1)"},
		{1.0, "", "3 ft 3 in", "1.00 m"},
		{nil, "deep", "deep", "deep"},
		{nil, "", "", ""},
	} {
		f := Find{Values: map[string]any{}}
		f.set("depth_m", c.m)
		f.set("depth_as_typed", c.typed)
		if us, metric := f.depthShown("us"), f.depthShown("metric"); us != c.us || metric != c.metric {
			t.Errorf("%v, %q: %q, %q", c.m, c.typed, us, metric)
		}
	}
}

// TestDoubtsOfSingleFindsAreTold: as they are when the books are collected.
func TestDoubtsOfSingleFindsAreTold(t *testing.T) {
	all := located()
	all[0].properties["position"].(map[string]any)["error_m"] = 3
	all[2].properties["depth_m"] = 2.5
	m := materialOf(t, bookOf(t, all))
	text := strings.Join(m.doubts(Options{Units: "us"}), "\n")
	for _, want := range []string{"water reading by Ada", "may be off by 9.84 ft", "depth"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not told:\n%s", want, text)
		}
	}
}

func TestCaption(t *testing.T) {
	f := Find{Kind: "surface feature", Utility: "water", Values: map[string]any{"note": "valve lid", "recorded": "2031-05-06T12:00:00Z", "who": "Ada", "depth_m": 1.0}}
	if got, want := f.caption("us", "photos/a.jpg"), "water, surface feature, valve lid · 3 ft 3 in · 2031-05-06 12:00 UTC · Ada · no place · photos/a.jpg"; got != want {
		t.Error(got)
	}
}

func TestNoBetter(t *testing.T) {
	for in, want := range map[float64]float64{0.014000000000000002: 0.014, 0.01401: 0.0141, 0: 0, 0.3048: 0.3048} {
		if got := noBetter(&in); *got != want {
			t.Errorf("%v: %v, want %v", in, *got, want)
		}
	}
	if noBetter(nil) != nil {
		t.Error("an accuracy that nobody stated")
	}
}
