package intake

import (
	"strings"
	"testing"

	"groundsheet/tiles/vector"
)

// FuzzPropose: whatever is dropped, a proposal ends, states nothing that the file does
// not, and what it calls ready is read in the same way by the job's reader.
func FuzzPropose(f *testing.F) {
	names := []string{"water.csv", "x.txt", "x.kml", "x.geojson", "x.wkt", "x.gpx", "x.shp", "x.zip"}
	for i, text := range []string{degrees, "a,b\n1,2\n", kml, geo, "POINT (-105.0456 40.0123)", "<gpx version=\"1.1\"/>", "\x00\x00\x27\x0a", "PK\x03\x04"} {
		f.Add(byte(i), []byte(text), byte(0))
	}
	f.Add(byte(0), []byte("pt;E (ft);N (ft);Cover\n1;1627646,2;14531108,9;3,5\n"), byte(1))
	f.Add(byte(1), []byte("101,4429141.8,496108.4,1610.2,W\n"), byte(2))
	f.Fuzz(func(t *testing.T, name byte, data []byte, pick byte) {
		if len(data) > 4<<10 { // a table of many columns is tried in many ways
			t.Skip()
		}
		file := vector.File{Name: names[int(name)%len(names)], Data: data}
		answers := Answers{}
		p := Propose(file, site(), answers)
		for range 12 {
			sound(t, p, string(data))
			open := p.Open()
			if len(open) == 0 {
				break
			}
			if i := open[0]; len(i.Choices) > 0 {
				answers[i.Key] = i.Choices[int(pick)%len(i.Choices)].Value
			} else {
				answers[i.Key] = "1998"
			}
			p = Propose(file, site(), answers)
		}
		m, ready := p.Meta()
		if !ready {
			return
		}
		o, _, err := Read(file, m, "1")
		if err != nil && len(m.LeaveOut) < p.Rows {
			t.Fatalf("said to be ready, and %v", err)
		}
		if err == nil && len(o.Features) != len(p.Shapes) {
			t.Fatalf("%d features read, %d shown", len(o.Features), len(p.Shapes))
		}
	})
}

// sound fails where a proposal is surer than the file.
func sound(t *testing.T, p Proposal, text string) {
	t.Helper()
	for _, i := range p.Items {
		plain := strings.NewReplacer(" ", "", "_", "", "-", "").Replace(strings.ToLower(text))
		switch {
		case i.Why == "":
			t.Errorf("%s has no reason", i.Key)
		case i.Sure == Unknown && i.Value != "":
			t.Errorf("%s is not known, and is %q", i.Key, i.Value)
		case strings.HasPrefix(i.Key, "units.") && i.Sure == Fits:
			t.Errorf("%s is guessed", i.Key)
		case i.Key == "datum" && i.Sure == Stated && !strings.Contains(plain, "84") && !strings.Contains(plain, "83") &&
			!strings.Contains(plain, "27") && !strings.Contains(plain, "4326"):
			t.Errorf("datum %q is not in the file", i.Value)
		case i.Key == "quality_level" && i.Value != "" && i.Sure != Answered:
			t.Errorf("quality level %q is nobody's", i.Value)
		}
	}
	for _, f := range p.Unread {
		if f.Detail == "" {
			t.Errorf("line %d has no reason", f.Line)
		}
	}
}
