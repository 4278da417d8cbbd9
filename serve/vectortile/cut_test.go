package vectortile

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

var carried = Options{Carry: []string{"depth_m", "quality_level"}}

func written(t testing.TB, features []geojson.Feature) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := geojson.Write(&b, features); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func index(t testing.TB, features []geojson.Feature) *Index {
	t.Helper()
	x, err := New(t.Context(), written(t, features), carried)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func feature(g orb.Geometry, properties map[string]any) geojson.Feature {
	return geojson.Feature{Geometry: g, Properties: properties}
}

// readings scatters points over a square of some degrees (invented).
func readings(n int, around orb.Point, degrees float64, seed uint64) (all []geojson.Feature) {
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range n {
		p := orb.Point{around[0] + (r.Float64()-0.5)*degrees, around[1] + (r.Float64()-0.5)*degrees}
		all = append(all, feature(p, map[string]any{"depth_m": 0.5 + r.Float64(), "date": "2026-10-01", "frequency_hz": 8192.0, "label": fmt.Sprintf("invented reading %d", i)}))
	}
	return all
}

// ground gives back degrees for a position on a tile's grid.
func ground(tile tiles.ID, d drawn, s gridPoint) orb.Point {
	n := math.Ldexp(1, int(tile.Z))
	lon, lat := tiles.Unproject((float64(tile.X)+float64(s[0])/float64(d.extent))/n, (float64(tile.Y)+float64(s[1])/float64(d.extent))/n)
	return orb.Point{lon, lat}
}

// over gives every tile of a zoom that a box touches.
func over(b tiles.Box, zoom int) (all []tiles.ID) {
	a, z := tiles.At(b.West, b.North, zoom), tiles.At(b.East, b.South, zoom)
	for y := a.Y; y <= z.Y; y++ {
		for x := a.X; x <= z.X; x++ {
			all = append(all, tiles.ID{Z: uint32(zoom), X: x, Y: y})
		}
	}
	return all
}

func cutTile(t testing.TB, x *Index, tile tiles.ID) []drawn {
	t.Helper()
	b, err := x.Tile(tile)
	if err != nil {
		t.Fatal(err)
	}
	return read(t, b)
}

// gridStep is a step of the grid on the ground, in meters.
func gridStep(lat float64, zoom int) float64 {
	return tiles.GroundResolution(lat, zoom, Extent(zoom))
}

// TestGridStep: from the exact zoom on no step is as long as 3 cm. The equator
// is 2π · 6,378,137 m (EPSG method 1024).
func TestGridStep(t *testing.T) {
	for zoom := ExactZoom; zoom <= DeepestZoom; zoom++ {
		for lat, most := range map[float64]float64{0: 0.0187, 60: 0.00935} {
			want := 2 * math.Pi * 6378137 * math.Cos(lat*math.Pi/180) / math.Pow(2, float64(zoom)) / float64(Extent(zoom))
			if got := gridStep(lat, zoom); math.Abs(got/want-1) > 1e-9 || got > most {
				t.Errorf("zoom %d at %v°: a step of %.5f m, want %.5f and at most %v", zoom, lat, got, want, most)
			}
		}
	}
}

// TestPositions: at every exact zoom every reading is in one tile, and lies
// within half a step each way of where its record says.
func TestPositions(t *testing.T) {
	for _, place := range []orb.Point{{-140.5, 0.0001}, {10.75, 60}} {
		all := readings(maxMarks, place, 0.002, 3) // none is left out
		x := index(t, all)
		for zoom := ExactZoom; zoom <= 21; zoom++ {
			met := map[uint64]bool{}
			for _, tile := range over(x.Content().Box, zoom) {
				for _, d := range cutTile(t, x, tile) {
					if met[d.id] {
						t.Errorf("reading %d is in two tiles", d.id)
					}
					met[d.id] = true
					off := geodesic.Distance(ground(tile, d, d.parts[0][0]), all[d.id].Geometry.(orb.Point))
					if most := gridStep(place[1], zoom) * math.Sqrt2 / 2 * 1.01; off > most || off > 0.03 {
						t.Errorf("zoom %d: reading %d is %.4f m off, at most %.4f", zoom, d.id, off, most)
					}
					if d.properties["depth_m"] != all[d.id].Properties["depth_m"] || d.properties["label"] != nil {
						t.Errorf("reading %d carries %v", d.id, d.properties)
					}
				}
			}
			if len(met) != len(all) {
				t.Errorf("zoom %d at %v: %d of %d readings are drawn", zoom, place, len(met), len(all))
			}
		}
	}
}

// TestThinning: no tile has more than its most, every reading is drawn or
// counted, and the squares are no larger than they must be.
func TestThinning(t *testing.T) {
	all := readings(20_000, orb.Point{-140.5, 40.5}, 0.01, 5)
	x := index(t, all)
	for _, zoom := range []int{8, 12, 14, 15, 16, 17, 18, 19} {
		total, most, thinned := 0, 0, false
		for _, tile := range over(x.Content().Box, zoom) {
			things := cutTile(t, x, tile)
			if len(things) > maxMarks {
				t.Errorf("tile %v has %d things", tile, len(things))
			}
			here := 0
			for _, d := range things {
				more, _ := d.properties[MoreProperty].(uint64)
				here += 1 + int(more)
				thinned = thinned || more > 0
			}
			most = max(most, len(things))
			total += here
		}
		if thinned && most <= maxMarks/4 && zoom > 12 { // squares of half the side are four times as many at most
			t.Errorf("zoom %d: the fullest tile draws %d: the squares are too large", zoom, most)
		}
		if total != len(all) {
			t.Errorf("zoom %d: %d of %d readings are drawn or counted", zoom, total, len(all))
		}
		if thinned != (zoom < 19) {
			t.Errorf("zoom %d: thinned is %v", zoom, thinned)
		}
	}
}

// TestEqualGround: equal ground has equally many marks, wherever the edges of tiles
// lie. Readings are uniform and random; the ground is divided into 6 by 6 parts, which
// meet no tile's edge. One mark a square has less scatter than a Poisson process of the
// same mean; five of its standard deviations are exceeded once in two million.
func TestEqualGround(t *testing.T) {
	const parts, degrees = 6, 0.01
	middle := orb.Point{-140.5013, 40.5007}
	x := index(t, readings(20_000, middle, degrees, 9))
	for zoom := 14; zoom <= 19; zoom++ {
		var counts [parts * parts]int
		sum := 0
		for _, tile := range over(x.Content().Box, zoom) {
			for _, d := range cutTile(t, x, tile) {
				p := ground(tile, d, d.parts[0][0])
				column, row := int((p[0]-middle[0]+degrees/2)/degrees*parts), int((p[1]-middle[1]+degrees/2)/degrees*parts)
				counts[max(0, min(row, parts-1))*parts+max(0, min(column, parts-1))]++
				sum++
			}
		}
		mean := float64(sum) / (parts * parts)
		if mean < 2 {
			t.Fatalf("zoom %d: only %d marks", zoom, sum)
		}
		for i, n := range counts {
			if math.Abs(float64(n)-mean) > 5*math.Sqrt(mean) {
				t.Errorf("zoom %d: part %d has %d marks, the mean is %.1f", zoom, i, n, mean)
			}
		}
	}
}

// TestManyLongLines: things too long for any square are left out shortest
// first, and counted.
func TestManyLongLines(t *testing.T) {
	var all []geojson.Feature
	for i := range 2 * maxMarks {
		lat := 40.5 + float64(i)*1e-7
		all = append(all, feature(orb.LineString{{-140.6 - float64(i)*1e-6, lat}, {-140.4, lat}}, nil))
	}
	x := index(t, all)
	things := cutTile(t, x, tiles.At(-140.5, 40.5, 18))
	total := 0
	for _, d := range things {
		more, _ := d.properties[MoreProperty].(uint64)
		total += 1 + int(more)
	}
	if len(things) != maxMarks || total != len(all) {
		t.Errorf("%d things that stand for %d", len(things), total)
	}
}

// walk is a crooked line (invented).
func walk(n int, from orb.Point, step float64, seed uint64) (line orb.LineString) {
	r := rand.New(rand.NewPCG(seed, 2))
	for range n {
		line = append(line, from)
		from = orb.Point{from[0] + step*(r.Float64()-0.2), from[1] + step*(r.Float64()-0.5)}
	}
	return line
}

// TestLines: the pieces of a line are as long together as the line, so they
// neither overlap nor leave gaps, and their ends meet at the tiles' edges.
func TestLines(t *testing.T) {
	line := walk(300, orb.Point{-140.5, 40.5}, 0.0002, 7)
	x := index(t, []geojson.Feature{feature(line, map[string]any{"quality_level": "C"})})
	whole := length(line)
	for zoom := ExactZoom; zoom <= 20; zoom++ {
		sum, ends := 0.0, map[orb.Point]int{}
		for _, tile := range over(x.Content().Box, zoom) {
			for _, d := range cutTile(t, x, tile) {
				if d.layer != LayerRecords || d.properties["quality_level"] != "C" {
					t.Fatalf("%+v", d)
				}
				for _, part := range d.parts {
					path := make(orb.LineString, len(part))
					for i, s := range part {
						path[i] = ground(tile, d, s)
					}
					sum += length(path)
					for _, end := range []orb.Point{path[0], path[len(path)-1]} {
						ends[orb.Point{math.Round(end[0] * 1e8), math.Round(end[1] * 1e8)}]++
					}
				}
			}
		}
		if math.Abs(sum/whole-1) > 0.001 {
			t.Errorf("zoom %d: the pieces are %.3f m, the line %.3f m", zoom, sum, whole)
		}
		single := 0
		for _, n := range ends {
			if n%2 == 1 {
				single++
			}
		}
		if single != 2 {
			t.Errorf("zoom %d: %d ends meet no other, want the line's own two", zoom, single)
		}
	}
}

func length(line orb.LineString) (m float64) {
	for i := 1; i < len(line); i++ {
		m += geodesic.Distance(line[i-1], line[i])
	}
	return m
}

// TestOutlines: the insides of an outline's pieces cover it once, holes left
// out, and no line is drawn along the edge of a tile.
func TestOutlines(t *testing.T) {
	ring := func(r float64, back bool) (ring orb.Ring) {
		for i := range 90 {
			a := float64(i) * math.Pi / 45
			ring = append(ring, orb.Point{-140.5003 + r*math.Cos(a), 40.5004 + r*math.Sin(a)})
		}
		ring = append(ring, ring[0])
		if back {
			slices.Reverse(ring)
		}
		return ring
	}
	for name, polygon := range map[string]orb.Polygon{"as the text wants it": {ring(0.002, false), ring(0.001, true)}, "the other way round": {ring(0.002, true), ring(0.001, false)}} {
		x := index(t, []geojson.Feature{feature(polygon, nil)})
		square := project.Polygon(polygon.Clone(), onSquare)
		want := math.Abs(planar.Area(square[0])) - math.Abs(planar.Area(square[1]))
		edge := length(orb.LineString(polygon[0])) + length(orb.LineString(polygon[1]))
		for _, zoom := range []int{17, 18, 19} {
			inside, along := 0.0, 0.0
			for _, tile := range over(x.Content().Box, zoom) {
				for _, d := range cutTile(t, x, tile) {
					for _, part := range d.parts {
						switch d.layer {
						case LayerFaces:
							inside += area(part) / 2 / math.Pow(float64(d.extent)*math.Ldexp(1, zoom), 2)
						case LayerEdges:
							for i := 1; i < len(part); i++ {
								along += geodesic.Distance(ground(tile, d, part[i-1]), ground(tile, d, part[i]))
							}
						}
					}
				}
			}
			if math.Abs(inside/want-1) > 0.001 || math.Abs(along/edge-1) > 0.001 {
				t.Errorf("%s, zoom %d: %.4f of the inside, %.4f of the edge", name, zoom, inside/want, along/edge)
			}
		}
	}
}

// TestSmallThings: what is shorter than a step is drawn as a point, not lost.
func TestSmallThings(t *testing.T) {
	at := orb.Point{-140.5, 40.5}
	near := orb.Point{-140.5 + 1e-7, 40.5}
	x := index(t, []geojson.Feature{
		feature(orb.LineString{at, near}, nil),
		feature(orb.Polygon{{at, near, {-140.5, 40.5 + 1e-7}, at}}, nil),
		feature(orb.MultiPoint{at, near}, nil),
	})
	met := map[uint64]int{}
	for _, d := range cutTile(t, x, tiles.At(-140.5+5e-8, 40.5, 12)) {
		if d.kind != typePoint {
			t.Errorf("%+v", d)
		}
		met[d.id]++
	}
	if met[0] != 1 || met[1] != 1 || met[2] != 2 {
		t.Errorf("drawn: %v", met)
	}
}
