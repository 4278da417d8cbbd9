package source_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

const county = `
[county-ortho]
kind = "xyz"
url = "https://tiles.county.example/ortho/{z}/{x}/{y}.jpg?key={key}"
key_env = "COUNTY_KEY"
zooms = [8, 21]
tile_size = 512
attribution = "Example County, imagery 2025"
captured = "2025-03"
bounds = [-105.5, 39.5, -104.5, 40.5]

[county-ortho.terms]
offline = "allowed"
reference = "https://tiles.county.example/terms"
permission = ""
requests_per_second = 8
connections = 4
tiles_per_job = 50000
keep_at_least = "14d"
contact = "maps@office.example"
`

// with is a small valid source with more lines; replace a line by giving it.
func with(lines ...string) string {
	keys := []string{"kind", "url", "zooms"}
	have := map[string]string{"kind": `kind = "xyz"`, "url": `url = "https://t.example/{z}/{x}/{y}.png"`, "zooms": `zooms = [0, 19]`}
	var rest []string
	for _, l := range lines {
		if k, _, _ := strings.Cut(l, " "); have[k] != "" {
			have[k] = l
			continue
		}
		rest = append(rest, l)
	}
	text := "[a]\n"
	for _, k := range keys {
		text += have[k] + "\n"
	}
	return text + strings.Join(rest, "\n") + "\n"
}

func TestReadKeepsEveryField(t *testing.T) {
	b, err := source.Read([]byte(county), "sources.toml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Find("county-ortho")
	if err != nil {
		t.Fatal(err)
	}
	if s.Terms == nil || s.Bounds == nil {
		t.Fatalf("terms %v, bounds %v: want both", s.Terms, s.Bounds)
	}
	wantTerms := source.Terms{
		Offline: "allowed", Reference: "https://tiles.county.example/terms", Contact: "maps@office.example",
		RequestsPerSecond: 8, Connections: 4, TilesPerJob: 50000, KeepAtLeast: measure.Age(14 * 24 * time.Hour),
	}
	if *s.Terms != wantTerms {
		t.Errorf("terms %+v, want %+v", *s.Terms, wantTerms)
	}
	if want := (tiles.Box{West: -105.5, South: 39.5, East: -104.5, North: 40.5}); *s.Bounds != want {
		t.Errorf("bounds %v, want %v", *s.Bounds, want)
	}
	if s.Name != "county-ortho" || s.Kind != "xyz" || s.KeyEnv != "COUNTY_KEY" || s.TileSize != 512 ||
		s.Zooms != (tiles.Zooms{Min: 8, Max: 21}) || s.Captured != "2025-03" || s.Attribution != "Example County, imagery 2025" {
		t.Errorf("source %+v", s)
	}
	if err := s.Refusal(); err != nil {
		t.Errorf("refused: %v", err)
	}
}

func TestReadDefaults(t *testing.T) {
	b, err := source.Read([]byte("\ufeff"+with("[a.terms]", `offline = "allowed"`)), "s")
	if err != nil {
		t.Fatal(err)
	}
	s, _ := b.Find("a")
	want := source.Terms{Offline: "allowed", RequestsPerSecond: 2, Connections: 2, KeepAtLeast: measure.Age(7 * 24 * time.Hour)}
	if s.TileSize != 256 || *s.Terms != want {
		t.Errorf("size %d, terms %+v, want 256, %+v", s.TileSize, *s.Terms, want)
	}
	s.Terms.Offline = "forbidden"
	if again, _ := b.Find("a"); again.Terms.Offline != "allowed" {
		t.Error("a change of a found source reached the book")
	}
}

func TestCapturedForms(t *testing.T) {
	for line, want := range map[string]string{
		`captured = "2025-03"`:  "2025-03",
		`captured = 2025-03-09`: "2025-03-09",
		`captured = 2019`:       "2019",
		`captured = ""`:         "",
		``:                      "",
	} {
		b, err := source.Read([]byte(with(line)), "s")
		if err != nil {
			t.Errorf("%s: %v", line, err)
			continue
		}
		if s, _ := b.Find("a"); s.Captured != want {
			t.Errorf("%s: %q, want %q", line, s.Captured, want)
		}
	}
}

func TestReadFaults(t *testing.T) {
	cases := []struct {
		name, text string
		want       []string // pieces of the message
	}{
		{"unknown key", with(`zoms = [1, 2]`), []string{"line 5", `source "a"`, "zoms", "not a known key", "zooms"}},
		{"unknown terms key", with("[a.terms]", `ofline = "allowed"`), []string{"line 6", "terms.ofline", "offline"}},
		{"not TOML", "[a\nkind=", []string{"s.toml", "line 1"}},
		{"top level key", "kind = \"xyz\"\n", []string{"s.toml", "line 1"}},
		{"same source twice", with() + with(), []string{"line 6", "already exists"}},
		{"unknown kind", with(`kind = "geotiff"`), []string{`kind "geotiff" is not known to this version: use one of xyz, tms, tilejson`}},
		{"no kind", "[a]\n", []string{`kind "" is not known to this version`}},
		{"no url", "[a]\nkind = \"xyz\"\nzooms = [1, 2]\n", []string{"line 1", `source "a", url`, "missing"}},
		{"ftp", with(`url = "ftp://t.example/{z}/{x}/{y}"`), []string{"https:// or http://"}},
		{"no row", with(`url = "https://t.example/{z}/{x}.png"`), []string{"{y}"}},
		{"both rows", with(`url = "https://t.example/{z}/{x}/{y}{-y}.png"`), []string{"both"}},
		{"flip of a flip", with(`kind = "tms"`, `url = "https://t.example/{z}/{x}/{-y}.png"`), []string{"south"}},
		{"unknown placeholder", with(`url = "https://t.example/{z}/{x}/{y}/{style}"`), []string{"{style}"}},
		{"open brace", with(`url = "https://t.example/{z}/{x}/{y"`), []string{"not closed"}},
		{"no host", with(`url = "https:///{z}/{x}/{y}"`), []string{"no host"}},
		{"user in url", with(`url = "https://me:pw@t.example/{z}/{x}/{y}"`), []string{"user or a password"}},
		{"key in host", with(`url = "https://{key}.example/{z}/{x}/{y}"`, `key_env = "K"`), []string{"only {s}"}},
		{"fragment", with(`url = "https://t.example/#/{z}/{x}/{y}"`), []string{"#"}},
		{"key without env", with(`url = "https://t.example/{z}/{x}/{y}?k={key}"`), []string{"key_env", "missing"}},
		{"env without key", with(`key_env = "K"`), []string{"no {key}"}},
		{"key itself as env", with(`url = "https://t.example/{z}/{x}/{y}?k={key}"`, `key_env = "12-ab"`), []string{"not the key itself"}},
		{"subdomains missing", with(`url = "https://{s}.t.example/{z}/{x}/{y}"`), []string{"subdomains"}},
		{"subdomains unused", with(`subdomains = ["a"]`), []string{"no {s}"}},
		{"subdomain with slash", with(`url = "https://{s}.t.example/{z}/{x}/{y}"`, `subdomains = ["a/b"]`), []string{`"a/b"`}},
		{"no zooms", "[a]\nkind = \"xyz\"\nurl = \"https://t.example/{z}/{x}/{y}\"\n", []string{"zooms", "[8, 21]"}},
		{"zooms reversed", with(`zooms = [9, 3]`), []string{"reversed"}},
		{"zooms too deep", with(`zooms = [0, 25]`), []string{"24"}},
		{"tile size", with(`tile_size = 300`), []string{"line 5", "256 or 512"}},
		{"bounds", with(`bounds = [10, 40, 9, 41]`), []string{"west below east"}},
		{"bounds short", with(`bounds = [10, 40]`), []string{"[west, south, east, north]"}},
		{"captured", with(`captured = true`), []string{"captured"}},
		{"rate zero", with("[a.terms]", `requests_per_second = 0`), []string{"terms.requests_per_second"}},
		{"rate nan", with("[a.terms]", `requests_per_second = nan`), []string{"terms.requests_per_second"}},
		{"connections", with("[a.terms]", `connections = 17`), []string{"line 6", "terms.connections", "1 to 16"}},
		{"tiles per job", with("[a.terms]", `tiles_per_job = -1`), []string{"terms.tiles_per_job"}},
		{"resolution without unit", with(`ground_resolution = 6`), []string{"unit"}},
		{"impossible resolution", with(`ground_resolution = "0m"`), []string{"ground_resolution", "not possible"}},
		{"age as a number", with("[a.terms]", `keep_at_least = 7`), []string{"line 6", "terms.keep_at_least", `"7" has no unit: write 7y, 7d or 7h`}},
		{"age without unit", with("[a.terms]", `keep_at_least = "7"`), []string{"line 6", "terms.keep_at_least", "unit"}},
		{"contact two lines", with("[a.terms]", `contact = "a\r\nX: y"`), []string{"terms.contact", "one line"}},
		{"name with slash", strings.ReplaceAll(with(), "[a]", `["../a"]`), []string{"letters, digits and dashes"}},
		{"practice elsewhere", "[p]\nkind = \"practice\"\nurl = \"http://10.0.0.1/{z}/{x}/{y}.jpg\"\n", []string{"loopback"}},
		{"practice name taken", strings.ReplaceAll(with(), "[a]", "[practice]"), []string{"another name"}},
		{"two faults", with(`tile_size = 1`, `bounds = [1]`), []string{"tile_size", "bounds"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := source.Read([]byte(c.text), "s.toml")
			var f *fault.Fault
			if !errors.As(err, &f) {
				t.Fatalf("error %v (%T), want a Fault\n%s", err, err, c.text)
			}
			for _, w := range append(c.want, "line ") {
				if !strings.Contains(err.Error(), w) {
					t.Errorf("message %q lacks %q", err, w)
				}
			}
		})
	}
}

func TestFindUnknownListsNames(t *testing.T) {
	b, err := source.Read([]byte(county), "s")
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Find("conty")
	if !errors.Is(err, source.Unknown) {
		t.Fatalf("error %v, want Unknown with both names", err)
	}
	if !strings.Contains(err.Error(), "county-ortho, practice") {
		t.Errorf("message %q does not list the names", err)
	}
}

func TestPracticeIsAlwaysKnown(t *testing.T) {
	s, err := source.Config{}.Find("practice")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Refusal(); err != nil {
		t.Errorf("refused: %v", err)
	}
	if s.Kind != source.KindPractice || s.Zooms != (tiles.Zooms{Min: 0, Max: 22}) || s.Captured != "invented" ||
		s.Terms.RequestsPerSecond != 200 || s.Terms.Connections != 8 || s.Terms.Contact != "" {
		t.Errorf("practice source %+v, terms %+v", s, s.Terms)
	}
	name := s.StoreName()
	s.URL = "http://127.0.0.1:4040/{z}/{x}/{y}.jpg"
	if s.StoreName() != name {
		t.Error("the store name of a practice source changed with its address")
	}
}

func TestReadFileNamesTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sources.toml")
	if _, err := source.ReadFile(path); !errors.Is(err, os.ErrNotExist) || !strings.Contains(err.Error(), path) {
		t.Errorf("missing file: %v", err)
	}
	if err := os.WriteFile(path, []byte(with(`tile_size = 1`)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := source.ReadFile(path); err == nil || !strings.Contains(err.Error(), path) {
		t.Errorf("bad file: %v", err)
	}
}

// Whatever is read without a fault can be asked for its name, refusal and
// address without a panic, and the address leads to a host of the template.
func FuzzRead(f *testing.F) {
	for _, s := range []string{county, with(), with(`captured = 2025-03-09`), "", "[a]", with("[a.terms]", `keep_at_least = "7d"`),
		with(`url = "https://{s}.t.example/{q}"`, `subdomains = ["a", "b"]`),
		block("wms", service, `layer = "a"`, `crs = "EPSG:4326"`, `metatile = 2`, `zooms = [14, 20]`),
		block("drawn", someZooms, "[[a.draw]]", `file = "s.shp"`, `role = "street"`, `only = { CLASS = [1, "a", 2.5], B = true }`, "[[a.draw]]", `layer = ["x", "y"]`),
		block("folder", `file = "t/{z}/{x}/{y}.png"`, someZooms), with("[a.terms]", `hours = ["20:00-06:00"]`, `time_zone = "America/Denver"`)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		b, err := source.Read([]byte(text), "s")
		if err != nil {
			return
		}
		for _, n := range b.Names() {
			s, err := b.Find(n)
			if err != nil {
				t.Fatalf("named but not found: %v", err)
			}
			if s.Refusal() == nil && s.Terms == nil {
				t.Fatal("allowed without terms")
			}
			if s.KeyEnv != "" || s.URL == "" || s.Asked() {
				continue
			}
			a, err := s.Address(tiles.ID{Z: uint32(s.Zooms.Min)})
			if err != nil {
				t.Fatalf("source %+v: no address: %v", s, err)
			}
			if !strings.HasPrefix(strings.ToLower(a), "http") {
				t.Fatalf("address %q", a)
			}
		}
	})
}
