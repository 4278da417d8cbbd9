package vector

import (
	"fmt"
	"strings"
	"testing"

	"groundsheet/tiles/geojson"
)

func TestKMLWithoutEnd(t *testing.T) {
	mark := func(in string) string { return `<Placemark>` + in + `</Placemark>` }
	line := `<LineString><coordinates>1,1 2,2</coordinates></LineString>`
	tests := []struct {
		name, in, place, word string
	}{
		{"positions", mark(`<LineString><coordinates>` + strings.Repeat("1,1 ", geojson.MaxPositions+1) + `</coordinates></LineString>`), "placemark 1", "1000000 positions"},
		{"positions of several placemarks", strings.Repeat(mark(`<LineString><coordinates>`+strings.Repeat("1,1 ", geojson.MaxPositions/2+1)+`</coordinates></LineString>`), 2), "placemark 2", "1000000 positions"},
		{"lines", strings.Repeat(mark(line), MaxParts+1), fmt.Sprintf("placemark %d", MaxParts+1), "100000 rings"},
		{"lines in one placemark", mark(`<MultiGeometry>` + strings.Repeat(line, MaxParts+1) + `</MultiGeometry>`), "placemark 1", "100000 rings"},
		{"elements", mark(strings.Repeat("<a/>", maxElements)), "line 1", "500000 elements"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readKML(test.in, Areas)
			refusal(t, err, geojson.RuleSize, test.place, test.word)
		})
	}
}

func TestMixedParts(t *testing.T) {
	for name, in := range map[string]string{
		"open ring":              `<LinearRing><coordinates>0,0 1,0 1,1 0,1</coordinates></LinearRing>`,
		"bad position in a hole": `<Polygon><outerBoundaryIs><LinearRing>` + squareKML + `</LinearRing></outerBoundaryIs><innerBoundaryIs><LinearRing><coordinates>x,1</coordinates></LinearRing></innerBoundaryIs></Polygon>`,
		"bad position in a line": `<LineString><coordinates>1;2</coordinates></LineString>`,
		"bad position in a ring": `<LinearRing><coordinates>1</coordinates></LinearRing>`,
	} {
		_, _, err := Read(File{Name: "a.kmz", Data: packed(t, "doc.kml", `<kml><Placemark><MultiGeometry>`+in+`</MultiGeometry></Placemark></kml>`)}, Areas)
		if err == nil || !strings.Contains(err.Error(), "placemark 1") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What is wrong in an archive is told with its entry.
func TestPlaceInAnArchive(t *testing.T) {
	_, _, err := Read(File{Name: "a.kmz", Data: packed(t, "doc.kml", "<kml><Placemark>")}, Areas)
	refusal(t, err, RuleXML, `entry "doc.kml", line 1`, "not XML")
}

func TestEmptyShapesOfKML(t *testing.T) {
	_, info, err := readKML(`<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark><Placemark><Polygon/></Placemark>
		<Placemark><Polygon><outerBoundaryIs><LinearRing/></outerBoundaryIs></Polygon></Placemark>
		<Placemark><MultiGeometry><LineString/><LinearRing/></MultiGeometry></Placemark>`, Areas)
	if err != nil {
		t.Fatal(err)
	}
	noted(t, info, "4 empty shapes were")
}

// The user is not given a thousand notes of one kind.
func TestNotesAreFew(t *testing.T) {
	_, info, err := readGPX(strings.Repeat(`<trk><trkseg>`+walkNear+`</trkseg></trk>`, 1000), Areas)
	if err != nil || len(info.Notes) != mostNotes+1 {
		t.Fatalf("%d notes, %v", len(info.Notes), err)
	}
	noted(t, info, "There is more")
}
