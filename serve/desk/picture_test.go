package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

// withSources starts a practice server and writes a sources file into the user's config
// folder of the test: town with terms, bare without, shut outside its hours, spent after
// one tile, down.
func withSources(t *testing.T) (*opened, *practice.Running) {
	t.Helper()
	running, err := practice.Start(context.Background(), "", practice.Options{BusyEvery: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = running.Close() })
	home := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", home)
	hour := time.Now().UTC().Hour()
	text := ""
	for name, terms := range map[string]string{
		"town": "", "bare": "-", "down": "", "spent": "tiles_per_day = 1",
		"shut": fmt.Sprintf("hours = [\"%02d:00-%02d:00\"]\ntime_zone = \"UTC\"", (hour+3)%24, (hour+4)%24),
	} {
		url := running.URL
		if name == "down" {
			url = "http://127.0.0.1:1/{z}/{x}/{y}.jpg"
		}
		text += fmt.Sprintf("[%s]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 22]\ncaptured = \"2025-03\"\nattribution = \"Town\"\n", name, url)
		if terms != "-" {
			text += fmt.Sprintf("[%s.terms]\noffline = \"allowed\"\nreference = \"x\"\nrequests_per_second = 500\nconnections = 4\n%s\n", name, terms)
		}
	}
	if err := os.MkdirAll(filepath.Join(home, "groundsheet"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(home, "groundsheet", "sources.toml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return open(t), running
}

func townTile(n uint32) string {
	id := tiles.At(-140.5, 40.5, 19)
	return fmt.Sprintf("19/%d/%d", id.X+n, id.Y)
}

func TestPictureOfASource(t *testing.T) {
	o, running := withSources(t)
	for range 2 {
		status, body := o.ask("/api/picture/town/"+townTile(0), nil)
		if status != http.StatusOK || len(body) < 500 {
			t.Fatalf("%d %s", status, body)
		}
	}
	if n := running.Server.Counts().Requests; n != 1 {
		t.Errorf("%d requests for one tile", n)
	}
	for _, c := range []struct {
		path   string
		status int
		says   string
	}{
		{"bare/" + townTile(1), 400, "states no terms"}, {"shut/" + townTile(1), 502, "do not allow this hour"},
		{"down/" + townTile(1), 502, "cannot be reached"}, {"none/" + townTile(1), 400, "no source is named"},
		{"town/25/0/0", 404, "no such tile"}, {"town/3/9/0", 404, "no such tile"}, {"town/23/0/0", 400, "zooms 0 to 22"},
	} {
		if status, body := o.ask("/api/picture/"+c.path, nil); status != c.status || !strings.Contains(string(body), c.says) {
			t.Errorf("%s: %d %s", c.path, status, body)
		}
	}
	_, _ = o.ask("/api/picture/spent/"+townTile(2), nil)
	if status, body := o.ask("/api/picture/spent/"+townTile(3), nil); status != 502 || !strings.Contains(string(body), "are used up") {
		t.Errorf("%d %s", status, body)
	}
	if n := running.Server.Counts().Requests; n != 2 {
		t.Errorf("what is refused was asked for: %d requests", n)
	}
	if status, _ := o.ask("/api/picture/town/"+townTile(0), nil, func(r *http.Request) { r.Header.Del(secretHeader) }); status != http.StatusForbidden {
		t.Errorf("a stranger sees tiles: %d", status)
	}
}

func TestSourcesAreListed(t *testing.T) {
	o, running := withSources(t)
	var list struct {
		File    string      `json:"file"`
		Sources []sourceRow `json:"sources"`
	}
	o.get("/api/sources", &list)
	by := map[string]sourceRow{}
	for _, s := range list.Sources {
		by[s.Name] = s
	}
	if by["town"].Refused != nil || by["town"].Captured != "2025-03" || by["bare"].Refused == nil || by["shut"].Opens == nil || by["practice"].Name == "" {
		t.Errorf("%+v", list)
	}
	if running.Server.Counts().Requests != 0 {
		t.Error("the list asked for something")
	}
}

// TestSourceIsAdded: an address is asked what it is, tried, and written with the person's
// answers; without all of them nothing is.
func TestSourceIsAdded(t *testing.T) {
	o, running := withSources(t)
	var looked struct {
		Look   string     `json:"look"`
		Offers []offerRow `json:"offers"`
	}
	if status, body := o.ask("/api/sources/look", map[string]any{"address": running.URL}); status != 400 || !strings.Contains(string(body), "which zooms") {
		t.Errorf("%d %s", status, body)
	}
	streets, houses := filepath.Join(t.TempDir(), "streets.geojson"), filepath.Join(t.TempDir(), "buildings.geojson")
	for _, path := range []string{streets, houses} {
		if err := os.WriteFile(path, []byte(`{"type":"LineString","coordinates":[[-140.5,40.5],[-140.499,40.5]]}`), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if status, body := o.ask("/api/sources/look", map[string]any{"address": streets + "; building=" + houses}); status != 200 || !strings.Contains(string(body), `"kind":"drawn"`) ||
		!strings.Contains(string(body), "drawn as building (as stated)") {
		t.Errorf("%d %s", status, body)
	}
	post := func(path string, in, out any) (int, string) {
		t.Helper()
		status, body := o.ask(path, in)
		if status == http.StatusOK && out != nil {
			if err := json.Unmarshal(body, out); err != nil {
				t.Fatal(err)
			}
		}
		return status, string(body)
	}
	if status, body := post("/api/sources/look", map[string]any{"address": running.URL, "zooms": []int{0, 22}}, &looked); status != 200 || len(looked.Offers) != 1 {
		t.Fatalf("%d %s", status, body)
	}
	var tried struct {
		Picture []byte `json:"picture"`
		Zoom    int    `json:"zoom"`
	}
	if status, body := post("/api/sources/try", map[string]any{"look": looked.Look, "offer": 0, "at": []float64{-140.5, 40.5}}, &tried); status != 200 || len(tried.Picture) < 500 || tried.Zoom != 16 {
		t.Errorf("%d %s", status, body)
	}
	if status, body := post("/api/sources/try", map[string]any{"look": looked.Look, "offer": 0}, nil); status != 400 || !strings.Contains(body, "where it has imagery") {
		t.Errorf("%d %s", status, body)
	}
	var list struct {
		File string `json:"file"`
	}
	o.get("/api/sources", &list)
	before, _ := os.ReadFile(list.File)
	add := func(change func(terms map[string]any)) (int, string) {
		terms := map[string]any{"offline": "allowed", "reference": "https://town.example/terms", "copies_on_phones": "", "requests_per_second": "5",
			"connections": "", "tiles_per_day": "", "hours": "", "keep_at_most": ""}
		change(terms)
		return post("/api/sources", map[string]any{"look": looked.Look, "offer": 0, "name": "new-town", "captured": "2025", "terms": terms}, nil)
	}
	for key, says := range map[string]string{"offline": "no answer yet", "reference": "no answer yet", "copies_on_phones": "no answer yet", "hours": "no answer yet"} {
		if status, body := add(func(terms map[string]any) { delete(terms, key) }); status != 400 || !strings.Contains(body, says) || !strings.Contains(body, key) {
			t.Errorf("%s: %d %s", key, status, body)
		}
	}
	if after, _ := os.ReadFile(list.File); string(after) != string(before) {
		t.Error("an unanswered question changed the file")
	}
	if status, body := add(func(map[string]any) {}); status != 200 {
		t.Fatalf("%d %s", status, body)
	}
	if status, body := add(func(map[string]any) {}); status != 400 || !strings.Contains(body, "already") {
		t.Errorf("twice: %d %s", status, body)
	}
	if status, body := o.ask("/api/picture/new-town/"+townTile(5), nil); status != 200 {
		t.Errorf("%d %s", status, body)
	}
	if status, _ := post("/api/sources/try", map[string]any{"look": "77", "offer": 0}, nil); status != http.StatusNotFound {
		t.Errorf("a look that never was: %d", status)
	}
}
