package fieldbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"
)

// FuzzParse: a text that is taken is one that every reader of JSON reads alike, and names
// what it says it names.
func FuzzParse(f *testing.F) {
	good := reading("one")
	for _, e := range []entry{good, good.then("two", Strike, good), good.with(".photos", []any{map[string]any{"hash": hashOf(nil), "type": "image/png", "bytes": 5}})} {
		f.Add(e.text(f))
	}
	f.Add([]byte(`{"layout":1e0,"id":"","feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[1e999,0]}}}`))
	f.Add(bytes.Repeat([]byte(`{"a":`), 100))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, err := Parse(text)
		if err != nil {
			return
		}
		var read struct {
			ID     string `json:"id"`
			Mark   string `json:"mark"`
			Action Action `json:"action"`
		}
		if len(text) > MaxText || json.Unmarshal(text, &read) != nil || read.ID != got.ID || read.Mark != got.Mark || read.Action != got.Action {
			t.Fatalf("%s was read as %+v", text, got)
		}
		if (got.Action == Write) != (got.Feature != nil) || !hexID.MatchString(got.ID) || got.Written().IsZero() {
			t.Fatalf("%s was read as %+v", text, got)
		}
		entries := []Entry{{Number: 1, ID: got.ID, Mark: got.Mark, Action: got.Action, Text: text}}
		marks := Fold(entries)
		if len(marks) != 1 || marks[0].Leading.ID != got.ID {
			t.Fatalf("%+v", marks)
		}
		Overlays(marks)
	})
}

// story is entries of a few marks by phones that see one another now and then.
func story(r *rand.Rand) (all []entry) {
	for n := range 1 + r.IntN(4) {
		first := reading(fmt.Sprintf("%d/%d", n, r.Uint64())).at(noon.Add(time.Duration(r.IntN(100)) * time.Second))
		mark := []entry{first}
		for i := range r.IntN(8) {
			action := []Action{Write, Write, Strike, Restore}[r.IntN(4)]
			var seen []entry
			for range 1 + r.IntN(2) {
				seen = append(seen, mark[r.IntN(len(mark))])
			}
			e := first.then(fmt.Sprintf("%d/%d/%d", n, i, r.Uint64()), action, seen...).at(noon.Add(time.Duration(r.IntN(500)) * time.Second))
			if action == Write {
				e = e.with(".depth_m", float64(i))
			}
			mark = append(mark, e)
		}
		all = append(all, mark...)
	}
	return all
}

// state is what of marks does not depend on the book they are in.
func state(marks []Mark) (all []string) {
	for _, m := range marks {
		var rivals, every []string
		for _, v := range m.Rivals {
			rivals = append(rivals, v.ID)
		}
		for _, v := range m.All {
			every = append(every, v.ID)
		}
		all = append(all, fmt.Sprint(m.ID, m.Leading.ID, rivals, m.Struck, m.Written.ID, m.Feature.Properties, every))
	}
	return all
}

// TestFoldDoesNotCareForOrder: however entries arrive, once or more often, in one book or in
// two, the same marks come of them, and none is lost.
func TestFoldDoesNotCareForOrder(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	r := rand.New(rand.NewPCG(seed, 1))
	for n := range 200 {
		all := story(r)
		want, held := state(Fold(entriesOf(t, all))), 0
		for _, m := range Fold(entriesOf(t, all)) {
			held += len(m.All)
		}
		if held != len(all) {
			t.Fatalf("seed %d: %d of %d entries", seed, held, len(all))
		}
		sent := slices.Concat(all, all[:r.IntN(len(all))])
		r.Shuffle(len(sent), func(i, j int) { sent[i], sent[j] = sent[j], sent[i] })
		entries := entriesOf(t, sent)
		if n%50 == 0 {
			cut := r.IntN(len(sent) + 1)
			entries = slices.Concat(delivered(t, sent[:cut]), delivered(t, sent[cut:]))
		}
		if got := state(Fold(entries)); !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d:\n%q\n%q", seed, got, want)
		}
	}
}

// delivered are entries as a book of their own has them.
func delivered(t *testing.T, sent []entry) []Entry {
	t.Helper()
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	appended(t, b, sent...)
	all, err := b.all(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func entriesOf(t testing.TB, all []entry) (entries []Entry) {
	t.Helper()
	for _, e := range all {
		entries = append(entries, Entry{ID: e["id"].(string), Text: e.text(t)})
	}
	return entries
}

// TestRing: entries that follow one another in a ring hide no mark.
func TestRing(t *testing.T) {
	one := reading("one")
	two := one.then("two", Write, one)
	three := two.with("id", idOf("three")).with("after", []string{idOf("two")})
	two = two.with("after", []string{idOf("three")})
	marks := Fold(entriesOf(t, []entry{two, three}))
	if len(marks) != 1 || len(marks[0].All) != 2 || marks[0].Kind() != Reading {
		t.Errorf("%+v", marks)
	}
}
