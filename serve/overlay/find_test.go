package overlay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"groundsheet/serve/vectortile"
)

// findCase is a case of testdata/find.json, which the page's tests read too.
type findCase struct {
	Name, Typed, Record string
	Properties          json.RawMessage
	Found               bool
}

func findCases(t testing.TB) (all []findCase) {
	t.Helper()
	text, err := os.ReadFile("testdata/find.json")
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	if err != nil || len(all) < 20 {
		t.Fatalf("%d cases, %v", len(all), err)
	}
	return all
}

// TestFindCases: what is found by which words is one thing on the laptop and on the phone.
func TestFindCases(t *testing.T) {
	for _, c := range findCases(t) {
		f := finder{words: typedWords(c.Typed), whole: fold(c.Record)}
		record := fmt.Appendf(nil, `{"type":"Feature","geometry":null,"properties":%s}`, c.Properties)
		if got := len(f.words) == 0 || f.matches(record); got != c.Found {
			t.Errorf("%s: %q (%q) in %s: %v", c.Name, c.Typed, f.words, c.Properties, got)
		}
	}
}

// labeled is an index of n points labeled …, each with a note.
func labeled(t testing.TB, n int, note string) *vectortile.Index {
	t.Helper()
	var all []string
	for i := range n {
		all = append(all, fmt.Sprintf(`{"type":"Feature","geometry":{"type":"Point","coordinates":[-105,40]},"properties":{"label":"R-%d","note":%q}}`, i, note))
	}
	x, err := vectortile.New(t.Context(), []byte(`{"type":"FeatureCollection","features":[`+strings.Join(all, ",")+`]}`), vectortile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// run searches once; it fails the test on an error.
func run(t *testing.T, x *vectortile.Index, typed string, from int) finder {
	t.Helper()
	f := finder{words: typedWords(typed)}
	if err := f.run(t.Context(), x, from); err != nil {
		t.Fatal(err)
	}
	return f
}

// TestFindPages: page after page gives each feature that matches once, in order, as packed.
func TestFindPages(t *testing.T) {
	const n = 700 // in several compressed blocks
	x := labeled(t, n, "cover")
	for typed, want := range map[string]int{"": n, "cover": n, "r7": 11, "R-6 99": 1, "nothing": 0} {
		var got []string
		first := run(t, x, typed, 0)
		for f, pages := first, 0; ; f, pages = run(t, x, typed, *f.next), pages+1 {
			for _, record := range f.found {
				got = append(got, string(record))
			}
			if len(f.found) > foundMost || pages > n {
				t.Fatalf("%q: %d in a page, %d pages", typed, len(f.found), pages)
			}
			if f.next == nil {
				break
			}
		}
		if first.matched != want || first.searched != n || len(got) != want {
			t.Errorf("%q: %d of %d match, %d were given, want %d", typed, first.matched, first.searched, len(got), want)
		}
		var last int
		for i, record := range got {
			var f struct{ Properties struct{ Label string } }
			var number int
			if _, err := fmt.Sscanf(record[strings.Index(record, "R-"):], "R-%d", &number); err != nil || json.Unmarshal([]byte(record), &f) != nil || i > 0 && number <= last {
				t.Fatalf("%q: %d after %d: %s", typed, number, last, record)
			}
			if whole, err := x.Record(number); err != nil || string(whole) != record {
				t.Errorf("%q: %s, packed was %s, %v", typed, record, whole, err)
			}
			last = number
		}
	}
	for _, from := range []int{n, n + 1, 1 << 30} {
		if f := run(t, x, "", from); f.matched != 0 || f.searched != 0 || len(f.found) != 0 || f.next != nil {
			t.Errorf("from %d: %+v", from, f)
		}
	}
}

// TestFindSize: an answer holds no more than its bytes, and one feature at least.
func TestFindSize(t *testing.T) {
	x := labeled(t, 8, strings.Repeat("x", foundBytes/3))
	if f := run(t, x, "", 0); len(f.found) != 2 || *f.next != 2 {
		t.Errorf("%d features, next %d", len(f.found), *f.next)
	}
	x = labeled(t, 2, strings.Repeat("x", 2*foundBytes))
	if f := run(t, x, "r", 1); len(f.found) != 1 || f.next != nil {
		t.Errorf("%d features", len(f.found))
	}
}

// TestFindTime: who has no more time says how far he came and where to go on; who went
// away is not searched for.
func TestFindTime(t *testing.T) {
	x := labeled(t, 10, "")
	over, done := context.WithTimeout(t.Context(), 0)
	defer done()
	<-over.Done()
	f := finder{words: []string{"r"}}
	if err := f.run(over, x, 0); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("the phone's own time was over: %v", err)
	}
	if f.stopped(context.DeadlineExceeded, 4); f.next == nil || *f.next != 4 {
		t.Errorf("next is %v", f.next)
	}
	var answer struct {
		NumberMatched, NumberSearched int
		Next                          *int
		Features                      []json.RawMessage
	}
	f.found = [][]byte{[]byte(`{"a":1}`), []byte(`{"b":2}`)}
	if err := json.Unmarshal(f.document(), &answer); err != nil || *answer.Next != 4 || len(answer.Features) != 2 {
		t.Errorf("%s, %v", f.document(), err)
	}
}

// FuzzFold: folding again changes nothing, nothing but letters, digits and points is
// left, and a text is found by its own words.
func FuzzFold(f *testing.F) {
	for _, c := range findCases(f) {
		f.Add(c.Typed)
	}
	f.Add("1..5 .5. \xff.É İ K")
	f.Fuzz(func(t *testing.T, text string) {
		folded := fold(text)
		if fold(folded) != folded || !utf8.ValidString(folded) || strings.ContainsAny(folded, " -\n\"") {
			t.Errorf("%q → %q → %q", text, folded, fold(folded))
		}
		words := typedWords(text)
		if len(words) > mostTyped {
			t.Errorf("%q: %d words", text, len(words))
		}
		for _, w := range words {
			if !strings.Contains(folded, w) && utf8.RuneCountInString(text) <= longestTyped {
				t.Errorf("%q is not found in %q by %q", text, folded, w)
			}
		}
	})
}

// FuzzFind: whatever a record holds, a search ends, and what it gives was packed.
func FuzzFind(f *testing.F) {
	f.Add([]byte(`{"type":"Feature","geometry":null,"properties":{"label":"R-1","n":[1,{"a":2}],"x":-1e400}}`), "r1")
	f.Add([]byte(`{"properties":{"":""}}`), "")
	f.Fuzz(func(t *testing.T, record []byte, typed string) {
		search := finder{words: typedWords(typed)}
		search.take(0, record)
		if len(search.found) != search.matched || len(search.found) == 1 && !bytes.Equal(search.found[0], record) {
			t.Errorf("%q in %s: %d found, %d counted", typed, record, len(search.found), search.matched)
		}
	})
}
