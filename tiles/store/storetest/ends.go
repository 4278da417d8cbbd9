package storetest

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func endCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"names":                     goodNames,
		"a closed store":            closed,
		"a canceled context":        cancelled,
		"a store names itself":      where,
		"one shelf for one name":    oneShelf,
		"closing while others read": closeWhileReading,
	}
}

func goodNames(t *testing.T, o Suite) {
	st := o.Open(t)
	for _, name := range []string{"", "../x", "a/b", "a.b", "a b", "ä", "a'b", strings.Repeat("a", 81)} {
		if _, err := st.Shelf(name); err == nil {
			t.Errorf("%q was taken", name)
		}
	}
	long := strings.Repeat("a", 80)
	keep(t, shelfOf(t, st, long), hole(0, 0, 0))
	if got := shelfOf(t, st, long).Name(); got != long {
		t.Errorf("named %q", got)
	}
}

func oneShelf(t *testing.T, o Suite) {
	st := o.Open(t)
	if shelfOf(t, st, "same") != shelfOf(t, st, "same") {
		t.Error("two shelves for one name")
	}
}

func where(t *testing.T, o Suite) {
	st := o.Open(t)
	if st.Where() == "" || st.Where() != o.Again(t, st).Where() {
		t.Errorf("%q and %q", st.Where(), o.Again(t, st).Where())
	}
}

func closed(t *testing.T, o Suite) {
	st := o.Open(t)
	s := shelfOf(t, st, "town")
	keep(t, s, hole(0, 0, 0))
	for range 2 {
		if err := st.Close(); err != nil {
			t.Fatal(err)
		}
	}
	_, keepErr := s.Keep(t.Context(), []store.Held{hole(0, 0, 0)})
	_, _, getErr := s.Get(t.Context(), tiles.ID{})
	_, jobsErr := st.Jobs(t.Context())
	_, shelfErr := st.Shelf("x")
	_, spentErr := s.Spent(t.Context(), today)
	for what, err := range map[string]error{
		"Keep": keepErr, "Get": getErr, "Jobs": jobsErr, "Shelf": shelfErr, "Spent": spentErr,
		"Drop": s.Drop(t.Context(), []tiles.ID{{}}), "NoteJob": st.NoteJob(t.Context(), job("k", 0)),
	} {
		if err == nil || !strings.Contains(err.Error(), "closed") {
			t.Errorf("%s in a closed store: %v", what, err)
		}
	}
}

// cancelled: nothing is written once the context has ended.
func cancelled(t *testing.T, o Suite) {
	st := o.Open(t)
	s := shelfOf(t, st, "town")
	r := image(3, 1, 1, 1, 50)
	keep(t, s, r)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	news := r
	news.ETag = "new"
	_, keepErr := s.Keep(ctx, []store.Held{image(3, 2, 2, 2, 50)})
	_, closeErr := st.CloseJob(ctx, "k", time.Now())
	for what, err := range map[string]error{
		"Keep": keepErr, "Renew": s.Renew(ctx, []store.Held{news}), "Drop": s.Drop(ctx, []tiles.ID{r.ID}),
		"Timed": s.Timed(ctx, 100, time.Second), "NoteJob": st.NoteJob(ctx, job("k", 0)),
	} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v, want context.Canceled", what, err)
		}
	}
	if closeErr != nil && !errors.Is(closeErr, context.Canceled) {
		t.Errorf("CloseJob: %v", closeErr)
	}
	if got := everything(t, s, true); len(got) != 1 || !same(got[0], r) {
		t.Errorf("the shelf holds %s", names(got))
	}
	if rate, err := s.PerSecond(t.Context()); rate != 0 || err != nil {
		t.Errorf("a run was timed: %v, %v", rate, err)
	}
	noted(t, st)
}

// closeWhileReading: a walk that goes on in a closed store ends with an error.
func closeWhileReading(t *testing.T, o Suite) {
	st := o.Open(t)
	s := shelfOf(t, st, "town")
	var recs []store.Held
	for i := range uint32(20000) {
		recs = append(recs, hole(18, i, 1))
	}
	keep(t, s, recs...)
	n := 0
	var last error
	for _, err := range s.All(t.Context(), false) {
		if last = err; err == nil {
			n++
		}
		if n == 1 && err == nil {
			if err := st.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if last == nil && n != len(recs) {
		t.Errorf("the walk ended without a word after %d of %d tiles", n, len(recs))
	}
}
