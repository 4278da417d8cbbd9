package main

import (
	"bytes"
	"context"
	"groundsheet/pack/office"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/tiles/practice"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/words"
)

// evil clears a screen, colors what follows and turns it round.
const evil = "\x1b[2J\u009b31m\u202eevil"

// shownPlain holds what was printed against what may stand on a screen.
func shownPlain(t *testing.T, what string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if words.EscapeControls(text) != text {
			t.Errorf("%s prints %q", what, text)
		}
	}
}

// TestNothingActsOnTheScreen: whatever a job, a store, a pack or a file name
// holds, commands print it in letters, and JSON keeps it as it is.
func TestNothingActsOnTheScreen(t *testing.T) {
	o := packedOffice(t)
	job, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	escaped := `"\u001b[2J\u009b31m\u202eevil"`
	text := strings.NewReplacer(`name = "Test site"`, "name = "+escaped, `number = ""`, "number = "+escaped).Replace(string(job))
	if strings.Count(text, escaped) != 2 {
		t.Fatal("the job was not changed")
	}
	o.write("site/job.toml", text)
	letters := "[U+001B][2J[U+009B]31m[U+202E]evil"
	for _, args := range [][]string{{"plan", o.path("site")}, {"pack", o.path("site")}, {"store", "show"}, {"refresh", o.path("site")}} {
		code, out, said := o.do(args...)
		shownPlain(t, strings.Join(args, " "), out, said)
		if code != 0 || !strings.Contains(out+said, letters) {
			t.Errorf("%v: %d\n%s%s", args, code, out, said)
		}
		if code, out, said = o.do(append(args, "--json", "--log-json")...); code != 0 || !strings.Contains(out, `\u202e`) {
			t.Errorf("%v: %d %s", args, code, out)
		}
		shownPlain(t, strings.Join(args, " ")+" --json", out, said)
	}
	var show office.StoreReport
	decode(t, o.must(0, "store", "show", "--json"), &show)
	if len(show.Jobs) != 1 || show.Jobs[0].Name != evil || show.Jobs[0].Number != evil {
		t.Errorf("JSON does not keep it: %+v", show.Jobs)
	}
}

// TestNothingActsFromAPack: a pack is anybody's file, and so is its name.
func TestNothingActsFromAPack(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob("--ticket", "T-1", "--valid-until", "2020-01-31")
	o.write("site/w.geojson", `{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[-140.5,40.5]}}`)
	job, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	o.write("site/job.toml", string(job)+"\n[[overlay]]\nfile = \"w.geojson\"\nutility = \"water\"\n")
	o.must(0, "pack", o.path("site"))
	db := sqlite.Open(o.packPath(), sqlite.Options{Settings: "mode=rw"})
	for _, change := range []string{
		`UPDATE groundsheet_document SET body = json_set(body, '$.expected_missing', json_array(?1), '$.ticket.number', ?1) WHERE key = 'about'`,
		`UPDATE groundsheet_overlay SET summary = json_set(summary, '$.title', ?1, '$.recorded', ?1)`,
		`UPDATE metadata SET value = value || ?1 WHERE name IN ('name', 'description', 'attribution')`,
	} {
		if _, err := db.Exec(change, evil); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	path := o.path("a" + evil + ".mbtiles")
	if err := os.Rename(o.packPath(), path); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"check", path}, {"brief", path}, {"check", path + "x"}, {evil}, {"check", "--" + evil}} {
		_, out, said := o.do(args...)
		shownPlain(t, args[0], out, said)
		if !strings.Contains(out+said, "U+202E]") && !strings.Contains(out+said, `\u202e`) {
			t.Errorf("%v says nothing of it:\n%s%s", args, out, said)
		}
		_, out, said = o.do(append(args, "--log-json")...)
		shownPlain(t, args[0]+" --log-json", out, said)
	}
	page, err := os.ReadFile(strings.TrimSuffix(path, ".mbtiles") + ".html")
	if err != nil {
		t.Fatal(err)
	}
	shownPlain(t, "the page of the brief", string(page))
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
	defer cancel()
	var out, said bytes.Buffer
	a := &app{out: &out, err: &said, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
	a.run(ctx, []string{"serve", path, "--listen", "127.0.0.1:0"})
	shownPlain(t, "serve", out.String(), said.String())
	if !strings.Contains(out.String(), "[U+202E]") {
		t.Errorf("serve says nothing of it:\n%s", out.String())
	}
}
