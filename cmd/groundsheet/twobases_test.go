package main

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"groundsheet/tiles/practice"
)

// TestTwoBaseMaps: one job with two base maps gives two packs, and the list that
// the phones show names the base map of each beside the job.
func TestTwoBaseMaps(t *testing.T) {
	o := newWorker(t)
	running := o.startSource(practice.Options{BusyEvery: -1})
	o.write("sources.toml", sourceText("town", running.URL, "")+sourceText("county", running.URL, "captured = \"2025-03\""))
	o.newJob("--source", "town")
	text, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	o.write("site/job.toml", string(text)+"\n[[base]]\nsource = \"county\"\nzooms = [15, 18]\n")
	o.must(0, "pack", o.path("site"))
	config := o.path("config")
	t.Setenv("XDG_CONFIG_HOME", config)
	t.Setenv("HOME", config)
	type entry struct {
		Name, Source, Packed, Job string
		Records                   int
	}
	var list struct{ Packs []entry }
	serveOnce(t, o, func(out string) {
		resp, err := http.Get(find(t, `(?m)^map: (http://\S+)/$`, out) + "/packs.json")
		if err != nil {
			t.Error(err)
			return
		}
		defer resp.Body.Close()
		body, _ := io.ReadAll(resp.Body)
		if err := json.Unmarshal(body, &list); err != nil {
			t.Errorf("%v: %s", err, body)
		}
	}, o.path("site", "out", "test-site-2-county.mbtiles"))
	for _, p := range list.Packs { // pictures of one place: the page offers one in place of the other
		if p.Job == "" || p.Job != list.Packs[0].Job || p.Records > 0 && p.Source == "county" {
			t.Errorf("%+v", list.Packs)
		}
	}
	var told []string
	for _, p := range list.Packs {
		told = append(told, p.Name+" from "+p.Source)
	}
	if got := strings.Join(told, ", "); got != "Test site from county, Test site from town" { // county was packed last
		t.Errorf("%s: %+v", got, list.Packs)
	}
}
