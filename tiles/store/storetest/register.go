package storetest

import (
	"reflect"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func jobCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"come back as they were noted": jobsNoted,
		"are closed and opened again":  jobsClosed,
		"are kept until a day":         jobsKept,
	}
}

func job(key string, base int) store.PackedJob {
	return store.PackedJob{
		Key: key, Base: base, Name: "Valve 12 'x'", Number: "24-117", Shelf: "town-1", Pack: "/office/Größe/\xff.mbtiles",
		Covers: []tiles.Cover{
			tiles.NewCover(3, []tiles.Span{{Row: 1, First: 2, Last: 5}, {Row: 2, First: 0, Last: 7}}),
			tiles.NewCover(24, []tiles.Span{{Row: 1<<24 - 1, First: 7, Last: 1<<24 - 1}}),
		},
		Packed: time.Date(2026, 11, 25, 8, 0, 0, 123000, time.UTC),
	}
}

func noted(t *testing.T, s store.Store, want ...store.PackedJob) {
	t.Helper()
	got, err := s.Jobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(want) {
		t.Fatalf("%d jobs, want %d", len(got), len(want))
	}
	for i := range got {
		if !reflect.DeepEqual(got[i], want[i]) {
			t.Errorf("job %d: %+v\nwant %+v", i, got[i], want[i])
		}
	}
}

func note(t *testing.T, s store.Store, jobs ...store.PackedJob) {
	t.Helper()
	for _, j := range jobs {
		if err := s.NoteJob(t.Context(), j); err != nil {
			t.Fatal(err)
		}
	}
}

func jobsNoted(t *testing.T, o Suite) {
	st := o.Open(t)
	noted(t, st)
	a, b, c := job("office-3:/a", 0), job("office-3:/a", 1), job("Office-3:/\xe9", 10)
	note(t, st, b, a, c)
	noted(t, o.Again(t, st), c, a, b) // by key in the order of bytes, then by base
	a.Name, a.Covers, a.Pack = "Valve 13", a.Covers[:1], ""
	note(t, o.Again(t, st), a)
	noted(t, st, c, a, b)
}

func jobsClosed(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b, c := job("k1", 0), job("k1", 1), job("k2", 0)
	note(t, st, a, b, c)
	at := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	for key, want := range map[string]bool{"k1": true, "k3": false} {
		if known, err := st.CloseJob(t.Context(), key, at); err != nil || known != want {
			t.Errorf("closing %s: %v, %v", key, known, err)
		}
	}
	a.Closed, b.Closed = at, at
	noted(t, o.Again(t, st), a, b, c)
	if a.Open() || !c.Open() {
		t.Error("open is not what it says")
	}
	a.Closed = time.Time{}
	note(t, st, a)
	noted(t, st, a, b, c)
}

func jobsKept(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b, c := job("k1", 0), job("k1", 1), job("k2", 0)
	keep := func(key string, k store.Keeping, want bool) {
		t.Helper()
		if known, err := st.KeepJob(t.Context(), key, k); err != nil || known != want {
			t.Errorf("keeping %s: %v, %v", key, known, err)
		}
	}
	keep("k1", store.Keeping{Until: "2027-03-01", Reason: "before any job"}, false)
	note(t, st, a, b, c)
	k := store.Keeping{Until: "2027-03-01", Reason: "claim 24-117, \xff 'x'"}
	keep("k1", store.Keeping{Until: "2026-12-31", Reason: "at first"}, true)
	keep("k1", k, true)
	keep("k3", k, false)
	a.Keep, b.Keep = k, k
	noted(t, o.Again(t, st), a, b, c)

	at := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC) // closing, opening and packing leave it
	for _, when := range []time.Time{at, {}} {
		if _, err := st.CloseJob(t.Context(), "k1", when); err != nil {
			t.Fatal(err)
		}
		a.Closed, b.Closed = when, when
		noted(t, st, a, b, c)
	}
	again := job("k1", 0)
	again.Name = "Valve 13"
	note(t, st, again)
	again.Keep = k
	noted(t, st, again, b, c)
	keep("k1", store.Keeping{}, true)
	again.Keep, b.Keep = store.Keeping{}, store.Keeping{}
	noted(t, st, again, b, c)

	day := func(text string) time.Time {
		d, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	if !k.On(day("2027-03-01").Add(23*time.Hour)) || k.On(day("2027-03-02")) || (store.Keeping{}).On(day("2026-01-01")) {
		t.Error("the last day is not what it says")
	}
}
