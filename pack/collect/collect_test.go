package collect_test

import (
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/tiles/sqlite"
)

func TestBringHome(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	first := reading("a", 0, 1, nil)
	add(t, book, first, reading("b", 1, 2, properties{"utility": "gas"}),
		reading("none", 2, 3, properties{"kind": "nothing found", "utility": "electric", "quality_level": nil, "depth_m": nil}),
		reading("lost", 3, 0, properties{"kind": "unlocatable", "utility": "sewer", "reason": "under the slab", "quality_level": nil, "depth_m": nil}).shaped("", nil))
	r := run(t, dir, book)
	if !r.Written || r.Marks != 4 || len(r.Changes) != 4 || len(r.Overlays) != 3 || r.Books[0].State != collect.New {
		t.Errorf("%+v", r)
	}
	j, err := job.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	in, err := j.ReadInputs()
	if err != nil || len(in.Overlays) != 3 || in.Overlays[2].Unlocated != 1 {
		t.Fatalf("%d overlays: %v", len(in.Overlays), err)
	}
	text := files(t, dir)[filepath.Join(dir, "overlays", "found-water.geojson")]
	for _, want := range []string{id("a"), `"entry":"` + id("a"), `"accuracy_m":0.03`, `"position_satellites":14`, `"who":"Ann"`, `"date":"2026-11-29T12:00:00Z"`,
		`"depth_as_written":"3 ft 4 in"`, `"quality_level":"B"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the overlay has no %s", want)
		}
	}
	if written := files(t, dir)[filepath.Join(dir, job.FileName)]; !strings.HasPrefix(written, jobText) || !strings.Contains(written, `datum = "NAD83(2011)"`) {
		t.Error(written)
	}

	before := files(t, dir)
	if r := run(t, dir, book); r.Written || len(r.Changes) != 0 || r.Books[0].State != collect.Same {
		t.Errorf("again: %+v", r)
	}
	same(t, before, files(t, dir))

	// Somebody wrote into an overlay, and took one away: both are as the books have them again.
	write(t, filepath.Join(dir, "overlays", "found-water.geojson"), "broken")
	if err := os.Remove(filepath.Join(dir, "overlays", "found-gas.geojson")); err != nil {
		t.Fatal(err)
	}
	if r := run(t, dir, book); !r.Written || len(r.Changes) != 0 {
		t.Errorf("mended: %+v", r)
	}
	same(t, before, files(t, dir))

	// The day after: one is changed, one struck; the last of its utility takes its overlay away.
	add(t, book, first.then("a2", "write", 10, "a"), reading("b", 1, 2, nil).then("b2", "strike", 11, "b"))
	r = run(t, dir, book)
	if r.Books[0].State != collect.Longer || r.Struck != 1 || len(r.Changes) != 2 || r.Changes[0].What != collect.Changed || r.Changes[1].What != collect.Struck {
		t.Errorf("%+v", r)
	}
	if _, err := os.Stat(filepath.Join(dir, "overlays", "found-gas.geojson")); !errors.Is(err, os.ErrNotExist) {
		t.Error("an overlay is there of which all marks are struck")
	}
	if j, err = job.Read(dir); err != nil || len(j.Overlays) != 2 {
		t.Errorf("%d overlays: %v", len(j.Overlays), err)
	}
	add(t, book, reading("b", 1, 2, nil).then("b3", "restore", 12, "b2"))
	if r = run(t, dir, book); len(r.Changes) != 1 || r.Changes[0].What != collect.Restored || len(r.Overlays) != 3 {
		t.Errorf("%+v", r)
	}
}

func same(t *testing.T, before, after map[string]string) {
	t.Helper()
	for path := range after {
		if before[path] != after[path] {
			t.Errorf("%s changed", path)
		}
	}
	for path := range before {
		if _, there := after[path]; !there {
			t.Errorf("%s is gone", path)
		}
	}
}

func TestWhatIsRefusedChangesNothing(t *testing.T) {
	at := t.TempDir()
	good, other := filepath.Join(at, "good.fieldbook"), filepath.Join(at, "other.fieldbook")
	add(t, good, reading("a", 0, 1, nil), reading("b", 1, 2, nil))
	copyOf := func(name string) string {
		data, err := os.ReadFile(good)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(at, name)
		write(t, path, string(data))
		return path
	}
	b, err := fieldbook.Open(other, fieldbook.About{Name: "Main St", Number: "9"}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Append(t.Context(), fieldbook.Sender{}, [][]byte{marshal(t, reading("x", 0, 0, nil))}); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	flipped := copyOf("flipped.fieldbook")
	change(t, flipped, `DROP TRIGGER entry_changed`, `UPDATE entry SET text = replace(text, 'Ann', 'Bob') WHERE number = 2`, entryTrigger)
	parted := copyOf("parted.fieldbook")
	add(t, good, reading("c", 2, 3, nil))
	add(t, parted, reading("d", 2, 3, nil))
	torn := filepath.Join(at, "torn.fieldbook")
	data, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	write(t, torn, string(data[:len(data)/2]))
	text := filepath.Join(at, "text.fieldbook")
	write(t, text, "no book")

	empty, full := site(t), site(t)
	run(t, full, good)
	for _, dir := range []string{empty, full} {
		before := files(t, dir)
		for name, c := range map[string]struct {
			books []string
			want  error
			says  string
		}{
			"flipped":    {[]string{good, flipped}, collect.Broken, "entry 2 is not what it was when it came"},
			"parted":     {[]string{good, parted}, collect.Parted, "from entry 3 on"},
			"other job":  {[]string{other}, collect.OtherJob, `"Main St"`},
			"torn":       {[]string{torn}, nil, "torn"},
			"no book":    {[]string{text}, nil, "text.fieldbook"},
			"none there": {[]string{filepath.Join(at, "none.fieldbook")}, fieldbook.NotBook, "none.fieldbook"},
		} {
			_, err := collect.Run(t.Context(), dir, c.books, collect.Options{})
			if err == nil || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v", name, err)
			}
			same(t, before, files(t, dir))
		}
		if _, err := collect.Run(t.Context(), dir, []string{good}, collect.Options{DryRun: true}); err != nil {
			t.Error(err)
		}
		same(t, before, files(t, dir))
	}
	if r, err := collect.Run(t.Context(), full, []string{other}, collect.Options{AnyJob: true}); err != nil || !r.Written {
		t.Errorf("%+v, %v", r, err)
	}
	if r := run(t, full, good); r.Written {
		t.Errorf("%+v", r)
	}
}

const entryTrigger = `CREATE TRIGGER entry_changed BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a field book only grows'); END`

// change changes a book as another program would.
func change(t *testing.T, path string, statements ...string) {
	t.Helper()
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// Books in any order, one by one or together, again and again, give the same files. There is
// one run of each utility: names of several are those under which they first came home.
func TestOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	for range 8 {
		at := t.TempDir()
		var books []string
		var all []entry
		for i := range 3 {
			book := filepath.Join(at, string(rune('a'+i)), "valve-12.fieldbook")
			write(t, book+".x", "")
			var own []entry
			for n := range 6 {
				name := string(rune('a'+i)) + string(rune('0'+n))
				code := []string{"water", "gas", "sewer"}[rng.IntN(3)]
				own = append(own, reading(name, rng.Float64()*60, rng.Float64()*20, properties{"utility": code, "line": id("run " + code)}))
				all = append(all, own[n])
			}
			for range 4 { // later entries of any laptop's marks
				e := all[rng.IntN(len(all))]
				action := []string{"write", "strike", "restore"}[rng.IntN(3)]
				later := e.then(string(rune('a'+i))+"later"+string(rune('0'+len(own))), action, 60+rng.Float64()*60)
				later["after"] = []string{e["id"].(string)}
				own = append(own, later)
			}
			add(t, book, own...)
			books = append(books, book)
		}
		var want map[string]string
		for round := range 4 {
			dir := site(t)
			todo := append([]string{}, books...)
			rng.Shuffle(len(todo), func(i, j int) { todo[i], todo[j] = todo[j], todo[i] })
			if round == 0 {
				run(t, dir, todo...)
			} else {
				for _, b := range append(todo, todo[0]) {
					run(t, dir, b)
				}
			}
			got := map[string]string{}
			for path, data := range files(t, dir) {
				name, err := filepath.Rel(dir, path)
				if err != nil {
					t.Fatal(err)
				}
				// Overlays are named in the one in the order in which they came, in the other runs that were lines meanwhile.
				if name != job.FileName && name != filepath.Join("fieldbooks", "runs.json") {
					got[name] = data
				}
			}
			if want == nil {
				want = got
			}
			same(t, want, got)
			j, err := job.Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := j.ReadInputs(); err != nil {
				t.Error(err)
			}
		}
	}
}
