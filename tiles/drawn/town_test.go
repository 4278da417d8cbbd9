package drawn_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// town writes the files of an invented place near 35.21, -101.83 and gives its source.
func town(t testing.TB) source.Source {
	t.Helper()
	dir := t.TempDir()
	feature := func(properties, geometry string) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":%s}`, properties, geometry)
	}
	write := func(name string, features ...string) {
		text := `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + "]}"
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	at := func(east, north float64) string {
		return fmt.Sprintf("[%.8f,%.8f]", -101.83+east/91000, 35.21+north/111000)
	}
	line := func(points ...string) string {
		return `{"type":"LineString","coordinates":[` + strings.Join(points, ",") + "]}"
	}
	ring := func(points ...string) string {
		return `{"type":"Polygon","coordinates":[[` + strings.Join(append(points, points[0]), ",") + "]]}"
	}
	var streets, parcels, buildings, numbers []string
	for i := range 5 {
		d := float64(i) * 100
		for k := range 4 { // in pieces, as center lines come
			from, to := float64(k)*100, float64(k+1)*100
			streets = append(streets, feature(fmt.Sprintf(`"FULLNAME":"W %d00 South Street","CLASS":1`, i+1), line(at(from, d), at(to, d))))
			streets = append(streets, feature(fmt.Sprintf(`"FULLNAME":"%s Avenue","CLASS":2`, []string{"Aspen", "Birch", "Cedar", "Dogwood", "Elm"}[i]), line(at(d, from), at(d, to))))
		}
		for k := range 12 {
			x, y := float64(k)*32+10, d+10
			parcels = append(parcels, feature(`"APN":"1"`, ring(at(x, y), at(x+32, y), at(x+32, y+40), at(x, y+40))))
			buildings = append(buildings, feature(`"B":1`, ring(at(x+6, y+12), at(x+22, y+12), at(x+22, y+28), at(x+6, y+28))))
			numbers = append(numbers, feature(fmt.Sprintf(`"NUM":%d`, 100*(i+1)+2*k), `{"type":"Point","coordinates":`+at(x+14, y+20)+"}"))
		}
	}
	write("streets.geojson", streets...)
	write("parcels.geojson", parcels...)
	write("buildings.geojson", buildings...)
	write("numbers.geojson", numbers...)
	write("water.geojson", feature(`"N":"Mill Pond"`, ring(at(420, 100), at(520, 120), at(500, 300), at(430, 280))), feature(`"N":"Mill Creek"`, line(at(450, 0), at(470, 60), at(460, 100))))
	write("rail.geojson", feature(`"N":"Santa Fe"`, line(at(-50, -60), at(600, 380))))
	file := func(name string) string { return filepath.Join(dir, name) }
	return source.Source{Name: "town", Kind: source.KindDrawn, Zooms: tiles.Zooms{Min: 12, Max: 22}, TileSize: 256, Draw: []source.Draw{
		{File: file("streets.geojson"), Role: source.RoleStreet, Name: "FULLNAME", Only: map[string][]string{"CLASS": {"2"}}},
		{File: file("streets.geojson"), Role: source.RoleMainStreet, Name: "FULLNAME", Only: map[string][]string{"CLASS": {"1"}}},
		{File: file("parcels.geojson"), Role: source.RoleParcel},
		{File: file("buildings.geojson"), Role: source.RoleBuilding},
		{File: file("numbers.geojson"), Role: source.RoleAddress, Name: "num"},
		{File: file("water.geojson"), Role: source.RoleWater, Name: "N"},
		{File: file("rail.geojson"), Role: source.RoleRail, Name: "N"},
	}}
}
