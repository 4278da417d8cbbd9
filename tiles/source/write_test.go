package source_test

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

// TestTextReadsBack: what is written is what is read, whatever the texts hold.
func TestTextReadsBack(t *testing.T) {
	for name, s := range map[string]source.Source{
		"wmts": {Kind: "wmts", URL: "https://t.example/{key}?a=b&c", KeyEnv: "K", Layer: `"quoted" \ <b> é`, Style: "s", Format: "image/png", MatrixSet: "m",
			Attribution: "© \u2028 [x] = 'y' # z", Bounds: &tiles.Box{West: -1.25, South: 2e-7, East: 3, North: 4}},
		"wms": {Kind: "wms", URL: "https://t.example/", Layer: "a,b", Version: "1.1.1", CRS: "EPSG:3857", Metatile: 4, Captured: "2025-03"},
		"raster": {Kind: "raster", CRS: "EPSG:2229", Format: "image/png", GroundResolution: 0.15, Raster: source.Raster{Files: []string{`/a "b".tif`, "/c"}, Bands: []int{4, 2, 1},
			Scale: []float64{0, 4095.5}, NoData: new(float64), Background: "#ffffff"}},
		"drawn": {Kind: "drawn", Draw: []source.Draw{
			{File: `/a "b".shp`, Role: source.RoleStreet, Name: "FULL NAME", Only: map[string][]string{"CLASS é": {"1", `"2"`}, "b": {"x"}}, EPSG: 2231, Encoding: "windows-1252"},
			{File: "/c.gpkg", Layers: []string{"a", "b"}, Role: source.RoleAddress}}},
		"file": {Kind: "folder", File: "/a b/{z}/{x}/{-y}.png"},
	} {
		s.Name, s.Zooms, s.TileSize = "a", tiles.Zooms{Min: 3, Max: 19}, 512
		b, err := source.Read([]byte(s.Text([]string{"a remark\nof two lines"})), "s")
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, s.Text(nil))
		}
		got, _ := b.Find("a")
		if got.Terms == nil || got.Refusal() == nil {
			t.Errorf("%s: terms %+v", name, got.Terms)
		}
		if got.Terms = nil; !reflect.DeepEqual(got, s) {
			t.Errorf("%s: %+v, want %+v", name, got, s)
		}
	}
}

func TestAppend(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "sub", "sources.toml")
	add := func(name string) error {
		return source.Append(path, source.Source{Name: name, Kind: "xyz", URL: "https://t.example/{q}", Zooms: tiles.Zooms{Max: 3}, TileSize: 256}, nil)
	}
	if err := add("first"); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(path)
	before = append(before, []byte("# mine, without an end")...)
	if err := os.WriteFile(path, before, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := add("second"); err != nil {
		t.Fatal(err)
	}
	after, _ := os.ReadFile(path)
	if !strings.HasPrefix(string(after), string(before)+"\n") {
		t.Errorf("what was there changed:\n%s", after)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
	book, err := source.ReadFile(path)
	if err != nil || strings.Join(book.Names(), " ") != "first practice second" {
		t.Errorf("%v, %v", book.Names(), err)
	}
	if err := add("first"); !errors.Is(err, source.Taken) {
		t.Errorf("a name twice: %v", err)
	}
	var bad *fault.Fault
	if err := add("no/name"); !errors.As(err, &bad) {
		t.Errorf("a bad name: %v", err)
	}
	if now, _ := os.ReadFile(path); string(now) != string(after) {
		t.Error("a refused source changed the file")
	}
	if err := os.WriteFile(path, []byte("[broken"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := add("third"); err == nil {
		t.Error("added to a file that cannot be read")
	}
	if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
	link := filepath.Join(dir, "link.toml")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := source.Append(link, source.Source{Name: "b", Kind: "xyz", URL: "https://t.example/{q}", TileSize: 256}, nil); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Lstat(link); info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link was replaced by a file")
	}
}

func TestHideKey(t *testing.T) {
	for address, want := range map[string][2]string{
		"https://t.example/a":                              {"https://t.example/a", ""},
		"https://t.example/a?layer=x":                      {"https://t.example/a?layer=x", ""},
		"https://t.example/a?x=1&api_key=a%20b%2Fc":        {"https://t.example/a?x=1&api_key={key}", "a b/c"},
		"https://t.example/{z}/{x}/{y}?Access-Token=abc&a": {"https://t.example/{z}/{x}/{y}?Access-Token={key}&a", "abc"},
		"https://t.example/a?key={key}":                    {"https://t.example/a?key={key}", ""},
		"https://t.example/a?token=":                       {"https://t.example/a?token=", ""},
	} {
		template, key, err := source.HideKey(address)
		if err != nil || template != want[0] || key != want[1] {
			t.Errorf("%s: %s, %q, %v", address, template, key, err)
		}
	}
	for _, address := range []string{"https://me:pw@t.example/a", "https://t.example/a?key=1&token=2", "https://t.example/a?key=%zz"} {
		if _, _, err := source.HideKey(address); err == nil {
			t.Errorf("%s was taken", address)
		}
	}
}
