package prune

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

var today = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// gone is the number of tiles and holes that would go.
func (p Plan) gone() (n int64) {
	for _, s := range p.Shelves {
		n += s.Tiles + s.Holes
	}
	return n
}

// world is a random store with a register, and what is in it.
type world struct {
	dir   string
	st    *folder.Store
	jobs  []store.PackedJob
	shelf []string
}

func makeWorld(t *testing.T, r *rand.Rand) *world {
	t.Helper()
	w := &world{dir: t.TempDir(), shelf: []string{"county-00000001", "state-00000002"}}
	var err error
	if w.st, err = folder.Open(w.dir); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = w.st.Close() })
	for _, name := range w.shelf {
		shelf, err := w.st.Shelf(name)
		if err != nil {
			t.Fatal(err)
		}
		var recs []store.Held
		for range 20 + r.IntN(300) {
			recs = append(recs, randomRecord(r))
		}
		if _, err := shelf.Keep(t.Context(), recs); err != nil {
			t.Fatal(err)
		}
	}
	for i := range r.IntN(7) {
		j := store.PackedJob{Key: fmt.Sprintf("desk:/jobs/%d", i/2), Base: i % 2, Name: fmt.Sprint("Job ", i/2), Shelf: w.shelf[r.IntN(2)], Packed: today.Add(-time.Duration(r.IntN(200*24*60)) * time.Minute)}
		if r.IntN(2) == 0 {
			j.Closed = today
		}
		for zoom := 4; zoom < 6; zoom++ {
			row, first := r.Uint32N(10), r.Uint32N(12)
			j.Covers = append(j.Covers, tiles.NewCover(zoom, []tiles.Span{{Row: row, First: first, Last: first + r.Uint32N(4)}, {Row: row + 1, First: first, Last: first + 3}}))
		}
		w.jobs = append(w.jobs, j)
		if err := w.st.NoteJob(t.Context(), j); err != nil {
			t.Fatal(err)
		}
	}
	for range len(w.jobs) / 3 {
		key := w.jobs[r.IntN(len(w.jobs))].Key
		k := store.Keeping{Until: today.AddDate(0, 0, r.IntN(3)-1).Format(time.DateOnly), Reason: "claim"}
		if _, err := w.st.KeepJob(t.Context(), key, k); err != nil {
			t.Fatal(err)
		}
		for i := range w.jobs {
			if w.jobs[i].Key == key {
				w.jobs[i].Keep = k
			}
		}
	}
	return w
}

func randomRecord(r *rand.Rand) store.Held {
	data := bytes.Repeat([]byte{byte(r.IntN(200))}, 100+r.IntN(3)*4000)
	rec := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 4 + r.Uint32N(2), X: r.Uint32N(16), Y: r.Uint32N(12)}, Data: data}, Media: "jpg"}
	rec.Fetched = today.Add(-time.Duration(r.IntN(200*24*60)) * time.Minute)
	if r.IntN(6) == 0 {
		rec.Hole, rec.Data = true, nil
	}
	return rec
}

func (w *world) sizes(t *testing.T) map[string]int64 {
	t.Helper()
	out := map[string]int64{}
	for _, name := range w.shelf {
		shelf, err := w.st.Shelf(name)
		if err != nil {
			t.Fatal(err)
		}
		size, err := shelf.Size(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		out[name] = size.Bytes
	}
	return out
}

type spot struct {
	shelf string
	id    tiles.ID
}

// held is what the shelves hold, and the bytes of the images of each.
func (w *world) held(t *testing.T) (map[spot]store.Held, map[string]int64) {
	t.Helper()
	out, images, n := map[spot]store.Held{}, map[string]bool{}, map[string]int64{}
	for _, name := range w.shelf {
		shelf, err := w.st.Shelf(name)
		if err != nil {
			t.Fatal(err)
		}
		for r, err := range shelf.All(t.Context(), false) {
			if err != nil {
				t.Fatal(err)
			}
			out[spot{name, r.ID}] = r
			if key := name + string(r.Hash[:]); !images[key] && !r.Hole {
				images[key] = true
				n[name] += int64(r.Bytes)
			}
		}
	}
	return out, n
}

// of says by plain look-up what jobs want of a tile; until is by one that is to be
// kept until a day.
func (w *world) of(p spot, r store.Held) (open, closed, until bool, used time.Time) {
	for _, j := range w.jobs {
		for _, c := range j.Covers {
			if j.Shelf == p.shelf && c.Has(p.id) {
				open, closed = open || j.Open(), closed || !j.Open()
				until = until || j.Keep.Until >= today.Format(time.DateOnly)
				if j.Packed.After(used) {
					used = j.Packed
				}
			}
		}
	}
	if !open && !closed {
		used = r.Fetched
	}
	return open, closed, until, used
}

// TestPlansAreSafe draws and applies plans on random stores, and holds them
// against plain look-ups.
func TestPlansAreSafe(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	rounds, met, unmet, kept, until := 30, 0, 0, 0, 0
	if testing.Short() {
		rounds = 12
	}
	for round := range rounds {
		w := makeWorld(t, r)
		before, bytesBefore := w.held(t)
		o := Options{Closed: r.IntN(2) == 0, OpenToo: r.IntN(5) == 0, Now: func() time.Time { return today }}
		if r.IntN(2) == 0 {
			o.OlderThan = time.Duration(1+r.IntN(200)) * 24 * time.Hour
		}
		if r.IntN(3) > 0 {
			o.DownTo = 1 + r.Int64N([]int64{1_000_000, 20_000}[r.IntN(2)]) // often less than open jobs need
		}
		was, sizes := files(t, w.dir), w.sizes(t)
		p, err := New(t.Context(), w.st, o)
		if err != nil {
			t.Fatal(err)
		}
		if files(t, w.dir) != was {
			t.Fatal("planning changed the disk")
		}
		done, err := p.Apply(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		after, bytesAfter := w.held(t)
		if done.Tiles+done.Holes != p.gone() || int64(len(before)-len(after)) != p.gone() {
			t.Fatalf("round %d: planned %d tiles, gone %+v, %d", round, p.gone(), done, len(before)-len(after))
		}
		for _, s := range p.Shelves {
			share := float64(bytesBefore[s.Name]-bytesAfter[s.Name]) / float64(bytesBefore[s.Name])
			if want := share * float64(sizes[s.Name]); math.Abs(float64(s.Freed)-want) > 300 { // a byte an image
				t.Fatalf("round %d: %d bytes of %s are planned, the images that went take %.0f", round, s.Freed, s.Name, want)
			}
		}
		w.judge(t, round, o, p, before, after)
		if p.Kept > 0 {
			kept++
		}
		if p.Until > 0 {
			until++
		}
		if o.DownTo > 0 && p.Met {
			met++
		} else if o.DownTo > 0 {
			unmet++
		}
	}
	if met < 2 || unmet < 2 || kept < 2 || until < 2 {
		t.Fatalf("%d plans met the size, %d did not, %d kept something, %d until a day: the test did not test", met, unmet, kept, until)
	}
}

func (w *world) judge(t *testing.T, round int, o Options, p Plan, before, after map[spot]store.Held) {
	t.Helper()
	var latestGone, earliestLeft time.Time
	for at, rec := range before {
		open, closed, until, used := w.of(at, rec)
		_, stays := after[at]
		mayGo := !until && (!open || o.OpenToo)
		meets := o.Closed && closed && !open || o.OlderThan > 0 && rec.Fetched.Before(today.Add(-o.OlderThan))
		switch {
		case !stays && until:
			t.Fatalf("round %d: %v is to be kept until a day and went (%+v)", round, at, o)
		case !stays && !mayGo:
			t.Fatalf("round %d: %v is wanted by an open job and went (%+v)", round, at, o)
		case stays && mayGo && meets:
			t.Fatalf("round %d: %v should have gone (%+v)", round, at, o)
		case !stays && !meets && o.DownTo == 0:
			t.Fatalf("round %d: %v went for no reason (%+v)", round, at, o)
		case !stays && !meets && used.After(latestGone):
			latestGone = used
		case stays && mayGo && (earliestLeft.IsZero() || used.Before(earliestLeft)):
			earliestLeft = used
		}
		if stays && mayGo && !p.Met {
			t.Fatalf("round %d: not small enough, and %v stays", round, at)
		}
	}
	if !earliestLeft.IsZero() && latestGone.Truncate(time.Minute).After(earliestLeft) {
		t.Fatalf("round %d: used at %v went, used at %v stays", round, latestGone, earliestLeft)
	}
}

func files(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	names, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(name, "-journal") {
			fmt.Fprintf(&all, "%s %x\n", name, data)
		}
	}
	return all.String()
}

// TestTakesNoMoreThanNeeded: of a thousand images packed in one minute, just
// the part goes that is over the size.
func TestTakesNoMoreThanNeeded(t *testing.T) {
	st, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	shelf, err := st.Shelf("county-1")
	if err != nil {
		t.Fatal(err)
	}
	var recs []store.Held
	for i := range uint32(1000) {
		recs = append(recs, store.Held{Media: "jpg", Tile: tiles.Tile{ID: tiles.ID{Z: 12, X: i}, Data: bytes.Repeat([]byte(fmt.Sprint(i, ";")), 4000), Origin: tiles.Origin{Fetched: today}}})
	}
	if _, err := shelf.Keep(t.Context(), recs); err != nil {
		t.Fatal(err)
	}
	size, err := shelf.Size(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	downTo := size.Bytes * 7 / 10
	p, err := New(t.Context(), st, Options{DownTo: downTo, Now: func() time.Time { return today }})
	if err != nil || !p.Met {
		t.Fatalf("%+v %v", p, err)
	}
	if over := p.Before - downTo; p.Freed < over || p.Freed > over+100_000 {
		t.Errorf("%d bytes are over, %d would be freed", over, p.Freed)
	}
	done, err := p.Apply(t.Context())
	if err != nil || done.Freed != done.Before-done.After || done.After > downTo+downTo/20 || done.After < downTo*9/10 {
		t.Errorf("%+v, wanted down to %d, %v", done, downTo, err)
	}
}

// TestRegisterIsReadAgain: a job that is packed between planning and applying
// keeps its tiles.
func TestRegisterIsReadAgain(t *testing.T) {
	w := makeWorld(t, rand.New(rand.NewPCG(5, 6)))
	p, err := New(t.Context(), w.st, Options{DownTo: 1, Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	whole := tiles.NewCover(5, []tiles.Span{{Row: 3, First: 0, Last: 31}})
	w.jobs = append(w.jobs, store.PackedJob{Key: "late", Shelf: w.shelf[0], Packed: today, Covers: []tiles.Cover{whole}})
	if err := w.st.NoteJob(t.Context(), w.jobs[len(w.jobs)-1]); err != nil {
		t.Fatal(err)
	}
	before, _ := w.held(t)
	if _, err := p.Apply(t.Context()); err != nil {
		t.Fatal(err)
	}
	after, _ := w.held(t)
	n := 0
	for at := range before {
		if at.shelf == w.shelf[0] && whole.Has(at.id) {
			if _, stays := after[at]; !stays {
				t.Errorf("%v went", at)
			}
			n++
		}
	}
	if n == 0 || len(after) >= len(before) {
		t.Fatalf("%d tiles of the late job, %d of %d stay: the test did not test", n, len(after), len(before))
	}
}
