package vector

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

func readCSV(text string, want Want) ([]geojson.Feature, Info, error) {
	return Read(File{Name: "a.csv", Data: []byte(text)}, want)
}

func TestTables(t *testing.T) {
	ring := orb.Ring{{-105, 40}, {-104, 40}, {-104, 41}, {-105, 40}}
	corners := "40,-105\n40,-104\n41,-104\n"
	tests := []struct {
		name, in string
		want     Want
		out      []orb.Geometry
		note     string
	}{
		{"outline, closed for the user", "lat,lon\n" + corners, Areas, []orb.Geometry{orb.Polygon{ring}}, "Outlines were closed"},
		{"outline, closed already", "lat,lon\n" + corners + "40,-105\n", Areas, []orb.Geometry{orb.Polygon{ring}}, "does not name its datum"},
		{"line", "lat,lon\n" + corners, Lines, []orb.Geometry{orb.LineString(ring[:3])}, ""},
		{"points", "lat,lon\n" + corners, Anything, []orb.Geometry{ring[0], ring[1], ring[2]}, ""},
		{"mark, semicolons, CRLF, capitals", "\xef\xbb\xbfLATITUDE;note;Lng\r\n40;a;-105\r\n40;b;-104\r\n41;c;-104\r\n", Areas, []orb.Geometry{orb.Polygon{ring}}, `Other columns were left out: "note"`},
		{"tabs", "X\tY\n-105\t40\n-104\t40\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, ""},
		{"names before y and x", "x,y,lat,long\n1,2,40,-105\n3,4,40,-104\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, ""},
		{"outlines by part, rows mixed", "part,lat,lon\nA,40,-105\nB,40,-105\nA,40,-104\nB,40,-104\nA,41,-104\nB,41,-104\n", Areas, []orb.Geometry{orb.Polygon{ring}, orb.Polygon{ring}}, `Each "part" is an outline`},
		{"part before id", "id,ring,lat,lon\n1,A,40,-105\n1,B,41,-104\n1,A,40,-104\n1,B,41,-105\n", Lines, []orb.Geometry{orb.LineString(ring[:2]), orb.LineString{{-104, 41}, {-105, 41}}}, ""},
		{"id that numbers the corners", "id,lat,lon\n1,40,-105\n2,40,-104\n3,41,-104\n", Areas, []orb.Geometry{orb.Polygon{ring}}, "number of the corner"},
		{"id that divides", "id,lat,lon\n1,40,-105\n1,40,-104\n2,41,-104\n2,40,-104\n", Lines, []orb.Geometry{orb.LineString(ring[:2]), orb.LineString{{-104, 41}, {-104, 40}}}, ""},
		{"blank rows", "lat,lon\n40,-105\n\n,\n40,-104\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, "1 blank row was"},
		{"seconds with bare quotes", "lat,lon\n40°00'00\"N,105°00'00\"W\n\"40°00'00\"\"N\",104 W\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, ""},
		{"windows-1252", "lat,lon\n40\xb0,-105\xb0\n40,-104\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, "windows-1252"},
		{"quotes over a line end", "lat,lon,note\n40,-105,\"two\nlines\"\n40,-104,\n", Lines, []orb.Geometry{orb.LineString(ring[:2])}, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, info, err := readCSV(test.in, test.want)
			if err != nil {
				t.Fatal(err)
			}
			var got []orb.Geometry
			for _, f := range features {
				got = append(got, f.Geometry)
			}
			if !reflect.DeepEqual(got, test.out) {
				t.Errorf("got %v", got)
			}
			if test.note != "" {
				noted(t, info, test.note)
			}
		})
	}
}

func TestTablesRefuse(t *testing.T) {
	var bad []string
	for i := range 30 {
		bad = append(bad, fmt.Sprintf("4x,%d", i))
	}
	tests := []struct {
		name, in    string
		rule        *fault.Kind
		place, word string
	}{
		{"no columns", "northing,easting\n1,2\n", RuleTable, "line 1", "northing, easting"},
		{"no header", "40,-105\n40,-104\n", RuleTable, "line 1", "40, -105"},
		{"one column", "lat;note\n", RuleTable, "line 1", "lat, note"},
		{"two latitudes", "lat,Latitude,lon\n1,2,3\n", RuleTable, "line 1", "more than one column for the latitude"},
		{"one bad row", "lat,lon\n1,2\nabc,2\n3,4\n", RuleTable, "line 3", `"abc" is not a latitude`},
		{"all bad rows", "lat,lon\n1,2\nabc,2\n1,\n3,4\n5,200\n1,2,3\n", RuleTable, "lines 3, 4, 6, 7", "4 rows give no position; line 3"},
		{"the first twenty", "lat,lon\n" + strings.Join(bad, "\n"), RuleTable, "lines 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21 and 10 more", "30 rows"},
		{"no part", "part,lat,lon\nA,1,2\n,1,3\n", RuleTable, "line 3", `nothing in column "part"`},
		{"two corners", "lat,lon\n1,2\n3,4\n", geojson.RuleRing, "line 2", "2 corners"},
		{"two corners and back", "lat,lon\n1,2\n3,4\n1,2\n", geojson.RuleRing, "line 2", "2 corners"},
		{"two corners in a part", "part,lat,lon\nA,1,2\nA,1,3\nA,2,3\nB,3,4\n", geojson.RuleRing, `part "B"`, "1 corners"},
		{"a quote that swallows rows", "lat,lon,note\n1,2,\"open\n3,4,x\n5,6,y\n", RuleTable, "line 2", "not closed"},
		{"metres", "y,x\n4428000,500000\n", RuleTable, "line 2", "not a latitude in degrees"},
		{"across the antimeridian", "lat,lon\n1,179\n1,-179\n2,-179\n", geojson.RuleAntimeridian, "line 2, ring 1, position 2", "358"},
		{"no rows", "lat,lon\n", geojson.RuleEmpty, "file", "no shape"},
		{"only line ends", "\n\n\n", RuleTable, "line 1", "no columns"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readCSV(test.in, Areas)
			refusal(t, err, test.rule, test.place, test.word)
		})
	}
}

func TestTableWithoutEnd(t *testing.T) {
	rows := strings.Repeat("1,2\n", geojson.MaxPositions+1)
	_, _, err := readCSV("lat,lon\n"+rows, Lines)
	refusal(t, err, geojson.RuleSize, "line 1000002", "1000000")
	_, _, err = readCSV("lat,lon\n"+rows[:4*(MaxParts+1)], Anything)
	refusal(t, err, geojson.RuleSize, "line 100002", "100000")
}

func TestAngles(t *testing.T) {
	dms := func(d, m, s float64) float64 { return d + m/60 + s/3600 }
	tests := []struct {
		in   string
		axis axis
		out  float64
	}{
		{"40.0123", latitude(), 40.0123}, {"-105.5", longitude(), -105.5}, {"+7", latitude(), 7}, {" 40° ", latitude(), 40},
		{"40.5N", latitude(), 40.5}, {"S 40.5", latitude(), -40.5}, {"105.5° w", longitude(), -105.5}, {"2E", longitude(), 2},
		{`40°00'44.3"N`, latitude(), dms(40, 0, 44.3)}, {"40 00 44.3 N", latitude(), dms(40, 0, 44.3)},
		{"-105 02 44.2", longitude(), -dms(105, 2, 44.2)}, {"W105 2.737", longitude(), -dms(105, 2.737, 0)},
		{"40:26:46S", latitude(), -dms(40, 26, 46)}, {"40d26'46\"", latitude(), dms(40, 26, 46)}, {"40º26’46”", latitude(), dms(40, 26, 46)},
		{"40° 26′ 46.5″ N", latitude(), dms(40, 26, 46.5)}, {"40°26''", latitude(), math.NaN()}, {"40°26'46''", latitude(), dms(40, 26, 46)},
		{"-0 30 0", latitude(), -0.5}, {"\u221240.5", latitude(), -40.5}, {"40°\u00a026'", latitude(), dms(40, 26, 0)},
		{"90", latitude(), 90}, {"-180", longitude(), -180}, {"89 59 59.999", latitude(), dms(89, 59, 59.999)},
		// what must be refused
		{"", latitude(), math.NaN()}, {"north", latitude(), math.NaN()}, {"90.1", latitude(), math.NaN()}, {"90 0 1", latitude(), math.NaN()},
		{"181", longitude(), math.NaN()}, {"40E", latitude(), math.NaN()}, {"105N", longitude(), math.NaN()}, {"-105 W", longitude(), math.NaN()},
		{"N40N", latitude(), math.NaN()}, {"40 60", latitude(), math.NaN()}, {"40 10 60", latitude(), math.NaN()}, {"40.5 10", latitude(), math.NaN()},
		{"40 10.5 10", latitude(), math.NaN()}, {"1234", longitude(), math.NaN()}, {"40,5", latitude(), math.NaN()}, {"1e1", latitude(), math.NaN()},
		{"40 10 10 10", latitude(), math.NaN()}, {"40.", latitude(), math.NaN()}, {"inf", latitude(), math.NaN()}, {"--4", latitude(), math.NaN()},
	}
	for _, test := range tests {
		t.Run(test.in, func(t *testing.T) {
			got, detail := test.axis.degrees(test.in)
			switch {
			case math.IsNaN(test.out) && detail == "":
				t.Errorf("read as %v", got)
			case !math.IsNaN(test.out) && (detail != "" || math.Abs(got-test.out) > 1e-12):
				t.Errorf("got %v, %s; want %v", got, detail, test.out)
			}
		})
	}
}
