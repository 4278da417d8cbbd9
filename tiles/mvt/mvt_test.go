package mvt_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/sqlite"
)

// gdalTile is a tile that GDAL's MVT driver wrote of an invented town, packed by gzip:
// testdata/town.mbtiles, ogr2ogr -f MVT of four layers, zooms 12 to 14.
func gdalTile(t testing.TB, zoom int) []byte {
	t.Helper()
	db := sqlite.OpenUntrusted(filepath.Join("testdata", "town.mbtiles"), sqlite.Untrusted{Longest: 1 << 20})
	defer db.Close()
	var data []byte
	if err := db.QueryRow(`SELECT tile_data FROM tiles WHERE zoom_level=? ORDER BY length(tile_data) DESC LIMIT 1`, zoom).Scan(&data); err != nil {
		t.Fatal(err)
	}
	return data
}

// TestDecodeGDAL: layers, fields and shapes of a tile written by another program.
func TestDecodeGDAL(t *testing.T) {
	for zoom, wider := range map[int]float64{12: 1, 13: 2, 14: 4} {
		layers, err := mvt.Decode(gdalTile(t, zoom))
		if err != nil {
			t.Fatal(err)
		}
		names := ""
		for _, l := range layers {
			names += l.Name + " "
			for _, f := range l.Features {
				for part := range geojson.Parts(f.Geometry) {
					b := part.Bound()
					if b.Min[0] < -0.1 || b.Max[1] > 1.1 {
						t.Errorf("zoom %d, %s: beyond the tile and its rim: %v", zoom, l.Name, b)
					}
					house, is := part.(orb.Polygon)
					if !is || l.Name != "buildings" {
						continue
					}
					// 16 m of 40,075,017·cos(35.2°)/2^z m
					if got, want := b.Max[0]-b.Min[0], 16/(40_075_017*math.Cos(35.2*math.Pi/180)/(4096*4))*wider/4; b.Min[0] > 0 && b.Max[0] < 1 && math.Abs(got-want) > 0.0006 {
						t.Errorf("zoom %d: a house is %.5f of a tile wide, want %.5f: %v", zoom, got, want, house)
					}
				}
			}
		}
		if names != "buildings parcels roads situs " {
			t.Errorf("zoom %d: %s", zoom, names)
		}
		if l := layers[2]; l.Fields["FULLNAME"] != "String" || l.Fields["CLASS"] != "Number" || len(l.Features) == 0 {
			t.Errorf("%+v", l.Fields)
		}
	}
}

func field(number protowire.Number, content []byte) []byte {
	return protowire.AppendBytes(protowire.AppendTag(nil, number, protowire.BytesType), content)
}

func number(n protowire.Number, v uint64) []byte {
	return protowire.AppendVarint(protowire.AppendTag(nil, n, protowire.VarintType), v)
}

func packed(numbers ...uint64) (out []byte) {
	for _, n := range numbers {
		out = protowire.AppendVarint(out, n)
	}
	return out
}

func layer(parts ...[]byte) []byte {
	return field(3, append(append(field(1, []byte("a")), number(15, 2)...), bytes.Join(parts, nil)...))
}

// TestRings is the example of the specification, 4.3.5.6: two outer rings, and a hole
// in the second.
func TestRings(t *testing.T) {
	commands := packed(9, 0, 0, 26, 20, 0, 0, 20, 19, 0, 15, 9, 22, 2, 26, 18, 0, 0, 18, 17, 0, 15, 9, 4, 13, 26, 0, 8, 8, 0, 0, 7, 15)
	layers, err := mvt.Decode(layer(field(2, append(number(3, 3), field(4, commands)...))))
	if err != nil {
		t.Fatal(err)
	}
	got := layers[0].Features[0].Geometry.(orb.MultiPolygon)
	if len(got) != 2 || len(got[0]) != 1 || len(got[1]) != 2 || got[1][1][0] != (orb.Point{13.0 / 4096, 13.0 / 4096}) {
		t.Errorf("%v", got)
	}
}

// TestBroken: what is no tile is refused, and what would fill the memory.
func TestBroken(t *testing.T) {
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	zeros := make([]byte, 1<<20)
	for range 17 {
		if _, err := z.Write(zeros); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	feature := func(kind uint64, commands ...uint64) []byte {
		return layer(field(2, append(number(3, kind), field(4, packed(commands...))...)))
	}
	for name, data := range map[string][]byte{
		"more than 16 MB":             bomb.Bytes(),
		"gzip cannot be read":         gdalTile(t, 14)[:500],
		"a field cannot be read":      {0xff},
		"cut short":                   field(3, make([]byte, 40))[:20],
		"a layer has no name":         field(3, number(15, 2)),
		"of version 7":                field(3, append(field(1, []byte("a")), number(15, 7)...)),
		"steps a side":                layer(number(5, 1<<40)),
		"name without a value":        layer(field(2, field(2, packed(1)))),
		"a value that is not there":   layer(field(2, field(2, packed(0, 9)))),
		"not hold what it says":       feature(2, 9, 2, 2, 1<<30|2),
		"a ring ends that did not":    feature(3, 15),
		"a text is not in UTF-8":      layer(field(4, field(1, []byte("\xff")))),
		"a layer is no message":       number(3, 5),
		"fields of another kind":      {3<<3 | 3},
		"its numbers are cut short":   layer(field(2, field(2, []byte{0xff}))),
		"geometry does not hold what": feature(1, 3),
	} {
		if _, err := mvt.Decode(data); !errors.Is(err, mvt.Broken) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if layers, err := mvt.Decode(nil); err != nil || layers != nil {
		t.Errorf("an empty tile: %v %v", layers, err)
	}
}

func TestPack(t *testing.T) {
	plain, err := mvt.Unpack(gdalTile(t, 14))
	if err != nil {
		t.Fatal(err)
	}
	again := mvt.Pack(plain)
	if back, err := mvt.Unpack(again); err != nil || !bytes.Equal(back, plain) || !bytes.Equal(mvt.Pack(again), again) {
		t.Error("not the same after packing", err)
	}
}

// FuzzDecode: whatever bytes come, reading ends, and numbers that come out are finite
// within the bounds of a tile's integers.
func FuzzDecode(f *testing.F) {
	plain, err := mvt.Unpack(gdalTile(f, 14))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(plain)
	f.Add(layer(field(2, append(number(3, 3), field(4, packed(9, 0, 0, 26, 20, 0, 0, 20, 19, 0, 15))...))))
	f.Fuzz(func(t *testing.T, data []byte) {
		layers, err := mvt.Decode(data)
		if err != nil {
			return
		}
		for _, l := range layers {
			for _, one := range l.Features {
				for part := range geojson.Parts(one.Geometry) {
					b := part.Bound()
					if sum := b.Min[0] + b.Max[1]; math.IsNaN(sum) || math.IsInf(sum, 0) {
						t.Fatalf("%v", part)
					}
				}
			}
		}
	})
}
