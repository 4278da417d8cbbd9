package intake

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/vector"
)

// site is an invented job near 40.0123 north, 105.0456 west, in UTM zone 13.
func site() Site {
	return Site{
		Ground: orb.Bound{Min: orb.Point{-105.0470, 40.0110}, Max: orb.Point{-105.0440, 40.0135}},
		Units:  "us", Expected: []string{"gas", "water"}, Recorded: []string{"gas"},
		Now: time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC),
	}
}

func propose(t testing.TB, name, text string, answers ...string) Proposal {
	t.Helper()
	a := Answers{}
	for i := 0; i+1 < len(answers); i += 2 {
		a[answers[i]] = answers[i+1]
	}
	return Propose(vector.File{Name: name, Data: []byte(text)}, site(), a)
}

func (p Proposal) item(key string) Item {
	for _, i := range p.Items {
		if i.Key == key {
			return i
		}
	}
	return Item{}
}

// wants compares items as "key=value (sure)"; a "!" behind it must be answered.
func wants(t *testing.T, p Proposal, want ...string) {
	t.Helper()
	for _, w := range want {
		key, _, _ := strings.Cut(w, "=")
		i := p.item(key)
		got := fmt.Sprintf("%s=%s (%s)", key, i.Value, i.Sure)
		if i.Must && i.Sure == Unknown {
			got += "!"
		}
		if got != w {
			t.Errorf("%s; want %s (%s)", got, w, i.Why)
		}
	}
}

func open(p Proposal) string {
	var keys []string
	for _, i := range p.Open() {
		keys = append(keys, i.Key)
	}
	return strings.Join(keys, " ")
}

const degrees = `Latitude,Longitude,Depth (in),Line,Note,QL,Date
40.012311,-105.045612,41,W-1,at the hydrant,B,2024-05-02
40.012345,-105.045633,42,W-1,,B,2024-05-02
40.012399,-105.045650,four,W-1,,B,2024-05-02
`

func TestTableInDegrees(t *testing.T) {
	p := propose(t, "water readings.csv", degrees)
	wants(t, p, "utility=water (fits)", "datum= (unknown)!", "units.depth=in (stated)", "divider=comma (fits)", "unread= (unknown)!",
		"recorded= (unknown)")
	if p.Rows != 3 || len(p.Unread) != 1 || p.Unread[0].Line != 4 || !strings.Contains(p.Unread[0].Detail, `"four"`) {
		t.Errorf("%d rows, %+v", p.Rows, p.Unread)
	}
	if p.Distance.Inside != 2 || len(p.Shapes) != 2 {
		t.Errorf("%+v, %d shapes", p.Distance, len(p.Shapes))
	}
	if _, ok := p.Meta(); ok {
		t.Error("taken in with questions open")
	}
	p = propose(t, "water readings.csv", degrees, "utility", "water", "datum", "not known", "unread", "leave out")
	m, ok := p.Meta()
	if !ok || m.Utility != "water" || m.Datum != "" || len(m.LeaveOut) != 1 || m.LeaveOut[0].Line != 4 || len(m.Columns) != 0 || m.QualityLevel != "" {
		t.Errorf("%v: %+v", ok, m)
	}
	if m.File != "overlays/water readings.csv" {
		t.Errorf("file %s", m.File)
	}
}

func TestTableInFeet(t *testing.T) {
	// 496108.38 m east and 4429141.77 m north of zone 13, in US survey feet
	const text = "Point;East (ft);North (ft);Cover;Utility\n1;1627646.2;14531108.9;3,5;gas main\n2;1627650.9;14531140.2;3,7;gas main\n3;1627655;14531161;3,6;Gas\n"
	p := propose(t, "export 2019.csv", text)
	wants(t, p, "utility=gas (stated)", "utm_zone=13N (fits)", "coordinates_in= (unknown)!", "units.depth= (unknown)!", "divider=semicolon (fits)",
		"decimal= (unknown)!")
	if why := p.item("coordinates_in").Why; !strings.Contains(why, "29.1 ft apart") {
		t.Errorf("why: %s", why)
	}
	if why := p.item("recorded").Why; !strings.Contains(why, "2019") {
		t.Errorf("why: %s", why)
	}
	p = propose(t, "export 2019.csv", text, "coordinates_in", "us survey ft", "units.depth", "ft", "decimal", ",", "datum", "NAD83(2011)")
	if open(p) != "" || p.Problem != "" || len(p.Unread) != 0 || p.Distance.Inside != 3 {
		t.Errorf("%s %s %+v %+v", open(p), p.Problem, p.Unread, p.Distance)
	}
	m, _ := p.Meta()
	if m.CoordinatesIn != "us survey ft" || m.UTMZone != "13N" || m.Units["depth"] != "ft" || m.Decimal != "," || m.Datum != "NAD83(2011)" ||
		m.Columns["easting"] != "East (ft)" || m.Columns["northing"] != "North (ft)" {
		t.Errorf("%+v", m)
	}
	if remark := p.Remarks()["utm_zone"]; !strings.Contains(remark, "not stated") {
		t.Errorf("remark %q", remark)
	}
}

func TestTableInMeters(t *testing.T) {
	p := propose(t, "x.csv", "pt,E,N\n1,496108.4,4429141.8\n2,496109.9,4429151.3\n3,496112,bad\n")
	wants(t, p, "utility= (unknown)!", "utm_zone=13N (fits)", "coordinates_in=m (fits)", "datum= (unknown)!", "unread= (unknown)!")
	if why := p.item("utility").Why; !strings.Contains(why, "water was notified") {
		t.Errorf("why: %s", why)
	}
	p = propose(t, "x.csv", "pt,UTM 13N easting,UTM 13N northing\n1,496108.4,4429141.8\n")
	wants(t, p, "utm_zone=13N (stated)", "coordinates_in=m (fits)")
	p = propose(t, "x.csv", "pt,easting,northing,zone\n1,496108.4,4429141.8,13N\n2,496108.4,4429141.8,13\n")
	wants(t, p, "utm_zone=as each row states it (stated)")
	if len(p.Unread) != 1 || p.Unread[0].Line != 3 {
		t.Errorf("%+v", p.Unread)
	}
	p = propose(t, "x.csv", "pt,easting,northing\n1,96108.4,429141.8\n2,96107,429141.8\n")
	wants(t, p, "epsg= (unknown)!")
}

func TestPlaceByNumbers(t *testing.T) {
	tests := []struct{ name, text, item string }{
		{"swapped names", "lat,lon\n-105.045612,40.012311\n-105.045633,40.012345\n", "column.latitude=lon (fits)"},
		{"x and y in degrees", "x,y,what\n-105.045612,40.012311,a\n-105.045633,40.012345,b\n", "column.longitude=x (fits)"},
		{"y and x the other way round", "x,y,what\n40.012311,-105.045612,a\n40.012345,-105.045633,b\n", "column.longitude=y (fits)"},
		{"no telling names", "p,a,b,c\n1,496108.4,4429141.8,12\n2,496109.9,4429151.3,13\n", "column.easting=a (fits)"},
		{"x and y of UTM", "x,y\n496108.4,4429141.8\n496109.9,4429151.3\n", "column.easting=x (fits)"},
		{"degrees under the names of a grid", "Northing,Easting\n40.012311,-105.045612\n40.012345,-105.045633\n", "column.latitude=Northing (fits)"},
		{"nothing there", "a,b\n1,2\n3,4\n", "place= (unknown)!"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) { wants(t, propose(t, "x.csv", test.text), test.item) })
	}
	p := propose(t, "x.csv", "a,b\n1,2\n3,4\n", "place", "degrees", "column.latitude", "b", "column.longitude", "a")
	wants(t, p, "far= (unknown)!")
	if p.Problem != "" || p.Distance.Near != 0 {
		t.Errorf("%q, %+v", p.Problem, p.Distance)
	}
}

// TestDegreesUnderGridNames: they are read as degrees where so they are at the job, the file
// of the job says so, and elsewhere the reason names them.
func TestDegreesUnderGridNames(t *testing.T) {
	p := propose(t, "gas.csv", "Pt,Northing,Easting\n1,40.012311,-105.045612\n2,n/a,-105.045633\n3,40.012345,-105.045633\n", "datum", "WGS 84", "unread", "leave out")
	if why := p.item("column.longitude").Why; !strings.Contains(why, "are degrees") {
		t.Errorf("why: %s", why)
	}
	if m, ok := p.Meta(); !ok || m.Columns["latitude"] != "Northing" || m.Columns["longitude"] != "Easting" || m.UTMZone != "" || p.Distance.Near != 2 {
		t.Errorf("%v %s %s %+v %+v", ok, open(p), p.Problem, m, p.Distance)
	}
	for text, degrees := range map[string]bool{"Northing,Easting\n30.5,-95.5\n30.6,-95.6\n": true, "Northing,Easting\n429141.8,96108.4\n": false} {
		p = propose(t, "gas.csv", text)
		wants(t, p, "epsg= (unknown)!")
		if why := p.item("epsg").Why; strings.Contains(why, "look like degrees") != degrees {
			t.Errorf("%s: %s", text, why)
		}
	}
}

func TestTableWithoutNames(t *testing.T) {
	const text = "101,4429141.8,496108.4,1610.2,W\n102,4429151.3,496109.9,1610.4,W\n"
	p := propose(t, "points.txt", text)
	wants(t, p, "no_header=yes (fits)", "column.easting=column 3 (fits)", "column.northing=column 2 (fits)", "utm_zone=13N (fits)")
	p = propose(t, "points.txt", text, "utility", "water", "datum", "WGS 84")
	m, ok := p.Meta()
	if !ok || p.Rows != 2 || m.File != "overlays/points.csv" || !m.NoHeader || m.Columns["easting"] != "column 3" {
		t.Errorf("%v %d %+v %s", ok, p.Rows, m, p.Problem)
	}
}

func TestSeveralUtilitiesAndMeanings(t *testing.T) {
	p := propose(t, "x.csv", "lat,lon,layer,diam,depth,cover\n40.0123,-105.0456,WATER MAIN,6 in,3ft,3ft\n40.0123,-105.0457,SANITARY,8 in,3ft,3ft\n")
	wants(t, p, "utility= (unknown)!", "column.size=diam (fits)", "column.depth= (unknown)!")
	if why := p.item("utility").Why; !strings.Contains(why, "1 water and 1 sewer") {
		t.Errorf("why: %s", why)
	}
	p = propose(t, "x.csv", "lat,lon,diam,depth,cover\n40.0123,-105.0456,6 in,3ft,4ft\n", "utility", "water", "datum", "NAD83", "column.size", "diam", "column.depth", "cover")
	m, ok := p.Meta()
	if !ok || m.Columns["depth"] != "cover" || m.Columns["size"] != "diam" {
		t.Errorf("%v %+v: %s %s", ok, m, open(p), p.Problem)
	}
	if d := p.Shapes[0].Properties; d["depth_as_written"] != "4ft" || d["column depth"] != "3ft" {
		t.Errorf("depth %v", d)
	}
	p = propose(t, "x.csv", "lat,lon,id,depth\n40.0123,-105.0456,7,3ft\n", "column.label", "", "utility", "water", "datum", "NAD83")
	if m, ok := p.Meta(); !ok || m.Columns["label"] != "" || p.Shapes[0].Properties["id"] != "7" {
		t.Errorf("%v %+v %v", ok, m.Columns, p.Shapes)
	}
}

func TestDatumsThatAreStated(t *testing.T) {
	for text, want := range map[string]string{
		"Latitude (WGS84),Longitude (WGS84)\n40.0123,-105.0456\n":           "datum=WGS 84 (stated)",
		"lat_nad83_2011,lon_nad83_2011\n40.0123,-105.0456\n":                "datum=NAD83(2011) (stated)",
		"lat,lon,datum\n40.0123,-105.0456,NAD 83\n":                         "datum=NAD83 (stated)",
		"lat,lon,datum\n40.0123,-105.0456,NAD83\n40.0123,-105.0456,WGS84\n": "datum= (unknown)!",
		"lat,lon,datum\n40.0123,-105.0456,local\n":                          "datum= (unknown)!",
		"lat,lon,vertical datum\n40.0123,-105.0456,NAVD88\n":                "datum= (unknown)!",
	} {
		wants(t, propose(t, "x.csv", text), want)
	}
}

func TestTablesThatCannotBeRead(t *testing.T) {
	p := propose(t, "water.csv", "lat,lon\nnone,-105\n40.0123,x\n", "datum", "WGS 84")
	if len(p.Unread) != 2 || p.Problem == "" {
		t.Errorf("%+v, %q", p.Unread, p.Problem)
	}
	if _, ok := p.Meta(); ok {
		t.Error("taken in")
	}
	for _, text := range []string{"", "\x00\x01", "a\"b\nc,\"d"} {
		if p := propose(t, "water.csv", text); p.Problem == "" && len(p.Open()) == 0 {
			t.Errorf("%q: nothing wrong", text)
		}
	}
	if p := propose(t, "w.csv", "lat,lon,note\n40.0123,-105.0456,caf\xe9\n"); p.item("encoding").Value != "windows-1252" || p.First[0].Cells[2] != "café" {
		t.Errorf("%+v", p.First)
	}
	p = propose(t, "w.csv", degrees, "utility", "pipes", "recorded", "last year", "accuracy", "2")
	wants(t, p, "utility= (unknown)!", "recorded= (unknown)!", "accuracy= (unknown)!")
}
