package main

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"groundsheet/pack/fieldbook"
)

// layouts is where files of each layout are kept, by kind and number, such as
// "pack-5.gz". Those of today are made with -update where they are missing; one that
// was released is never made anew. pack-0 is of the time when a pack stated no layout, codes-2 is
// read in serve/auth.
var layouts = filepath.Join("..", "..", "testdata", "layouts")

// layoutOf is the number that a SQLite file states in its header: its user version.
func layoutOf(data []byte) uint32 { return binary.BigEndian.Uint32(data[60:]) }

// today makes one file of each kind as this program writes it.
func today(t *testing.T) (o *worker, files map[string]string) {
	t.Helper()
	o = newWorker(t)
	o.must(0, "new", o.path("site"), "--name", "Valve 12", "--around", "40.5,-140.5", "--radius", "10ft", "--margin", "3ft", "--zooms", "17,17", "--source", "practice")
	o.write("site/overlays/water.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"size":"6 in"},
"geometry":{"type":"LineString","coordinates":[[-140.5001,40.5],[-140.4999,40.5]]}}]}`)
	job, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	o.write("site/job.toml", string(job)+"\n[[overlay]]\nfile = \"overlays/water.geojson\"\nutility = \"water\"\n")
	o.must(0, "pack", o.path("site"))
	shelves, err := filepath.Glob(o.path("store", "practice-*.sqlite"))
	if err != nil || len(shelves) != 1 {
		t.Fatalf("%v, %v", shelves, err)
	}
	files = map[string]string{"pack": o.path("site", "out", "valve-12.mbtiles"), "shelf": shelves[0],
		"register": o.path("store", "jobs.register"), "fieldbook": o.path("site", "out", "valve-12.fieldbook")}
	writeBook(t, files["fieldbook"])
	return o, files
}

func writeBook(t *testing.T, path string) {
	t.Helper()
	b, err := fieldbook.Open(path, fieldbook.About{Name: "Valve 12"}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	id := strings.Repeat("ab", 16)
	text := `{"layout":1,"id":"` + id + `","mark":"` + id + `","after":[],"action":"write","who":"Ada","phone":"` + id + `","clock":"2031-05-06T12:00:00Z",
"feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[-140.5,40.5]},"properties":{"kind":"reading","utility":"gas"}}}`
	_, err = b.Append(t.Context(), fieldbook.Sender{Role: "mark"}, [][]byte{[]byte(text)})
	if err := errors.Join(err, b.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestLayoutsAreKept: for each kind there is a file of today's layout.
func TestLayoutsAreKept(t *testing.T) {
	_, files := today(t)
	for kind, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		kept := filepath.Join(layouts, fmt.Sprintf("%s-%d.gz", kind, layoutOf(data)))
		if _, err := os.Stat(kept); err == nil {
			continue
		}
		if !*update {
			t.Errorf("%s is missing: a new layout needs a file here; go test ./cmd/groundsheet -run LayoutsAreKept -update", kept)
			continue
		}
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		_, err = z.Write(data)
		if err := errors.Join(err, z.Close(), os.WriteFile(kept, packed.Bytes(), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
}

// TestEveryLayoutOpens: files of every layout that was ever handed out are read.
func TestEveryLayoutOpens(t *testing.T) {
	kept, err := filepath.Glob(filepath.Join(layouts, "*.gz"))
	if err != nil || len(kept) < 4 {
		t.Fatalf("%v, %v", kept, err)
	}
	for _, file := range kept {
		name := strings.TrimSuffix(filepath.Base(file), ".gz")
		kind, _, _ := strings.Cut(name, "-")
		t.Run(name, func(t *testing.T) {
			o := newWorker(t)
			put := func(name string) string { return o.write(name, unzip(t, file)) }
			switch kind {
			case "pack":
				o.must(0, "check", put("valve.mbtiles"))
				o.must(0, "brief", o.path("valve.mbtiles"))
			case "shelf":
				put("store/practice-eccb04ce.sqlite")
				if out := o.must(0, "store", "verify"); !strings.Contains(out, "1 ") {
					t.Error(out)
				}
				o.must(0, "store", "show")
			case "register":
				put("store/jobs.register")
				if out := o.must(0, "store", "show"); !strings.Contains(out, "Valve 12") {
					t.Error(out)
				}
			case "fieldbook":
				if out := o.must(0, "check", put("valve.fieldbook")); !strings.Contains(out, "1 mark") {
					t.Error(out)
				}
			default:
				t.Errorf("nothing is known of a %s", kind)
			}
		})
	}
}

func unzip(t *testing.T, file string) string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(io.LimitReader(z, 10<<20))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestNewerLayouts: a file of a newer program is told, and nothing changes, whatever is asked.
func TestNewerLayouts(t *testing.T) {
	o, files := today(t)
	site := o.path("site")
	for kind, calls := range map[string][][]string{
		"pack":      {{"check", files["pack"]}, {"pack", site}, {"brief", files["pack"]}, {"copy", site, "--to", o.dir}},
		"shelf":     {{"plan", site}, {"pack", site}, {"store", "verify"}, {"refresh", site}},
		"register":  {{"store", "show"}, {"prune", "--closed", "--apply"}},
		"fieldbook": {{"check", files["fieldbook"]}, {"collect", site, files["fieldbook"]}},
	} {
		data, err := os.ReadFile(files[kind])
		if err != nil {
			t.Fatal(err)
		}
		newer := slices.Clone(data)
		binary.BigEndian.PutUint32(newer[60:], 99)
		if err := os.WriteFile(files[kind], newer, 0o644); err != nil {
			t.Fatal(err)
		}
		before := lasting(o.snapshot())
		for _, call := range calls {
			code, out, said := o.do(call...)
			if code == 0 || !strings.Contains(out+said, "99") {
				t.Errorf("%s, %v: exit code %d, %s%s", kind, call, code, out, said)
			}
			if after := lasting(o.snapshot()); !maps.Equal(before, after) {
				t.Errorf("%s, %v: files changed", kind, call)
			}
		}
		if err := os.WriteFile(files[kind], data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
