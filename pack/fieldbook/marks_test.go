package fieldbook

import (
	"fmt"
	"maps"
	"path/filepath"
	"testing"
	"time"
)

func TestMarks(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	one, gone, back := reading("one"), reading("gone").at(noon.Add(time.Minute)), reading("back").at(noon.Add(2*time.Minute))
	struck := gone.then("gone 2", Strike, gone)
	undone := back.then("back 2", Strike, back)
	left := one.then("left", Write, one).with(".depth_m", 1.5).at(noon.Add(time.Hour))
	right := one.then("right", Write, one).with(".depth_m", 2.5).at(noon.Add(3*time.Hour)).with("clock_ahead_s", 7190)
	appended(t, b, one, gone, back, struck, undone, back.then("back 3", Restore, undone), right, left)
	marks, err := b.Marks(t.Context())
	if err != nil || len(marks) != 3 {
		t.Fatalf("%d marks, %v", len(marks), err)
	}
	say := func(m Mark) string {
		return fmt.Sprintf("%s by %s, %d rivals, struck %v, %v m", m.Kind(), m.Leading.Text.Action, len(m.Rivals), m.Struck, m.Feature.Properties["depth_m"])
	}
	for i, want := range []string{
		"reading by write, 1 rivals, struck false, 2.5 m", "reading by strike, 0 rivals, struck true, 1.02 m",
		"reading by restore, 0 rivals, struck false, 1.02 m",
	} {
		if got := say(marks[i]); got != want {
			t.Errorf("mark %d: %s, want %s", i, got, want)
		}
	}
	overlays := Overlays(marks)
	if len(overlays) != 1 || len(overlays[0].Features) != 2 || overlays[0].Kind.Code != "water" || overlays[0].Features[0].Properties["rivals"] != 1.0 {
		t.Errorf("%+v", overlays)
	}
}

// TestPositionOfElsewhere: what a receiver said of another time or place is no accuracy of
// a mark, also in books of phones that wrote it as one.
func TestPositionOfElsewhere(t *testing.T) {
	for name, c := range map[string]struct {
		position map[string]any
		want     any
	}{
		"live":                {map[string]any{"age_s": 0.4}, 0.06},
		"age not told":        {nil, 0.06},
		"just live":           {map[string]any{"age_s": 30}, 0.06},
		"old":                 {map[string]any{"age_s": 720.5}, nil},
		"of unknown age":      {map[string]any{"age_s": nil}, nil},
		"recorded":            {map[string]any{"age_s": 0.4, "recorded": true}, nil},
		"from no satellites":  {map[string]any{"kind": "simulator"}, nil},
		"typed, nothing more": {map[string]any{"from": "typed", "recorded": true}, 0.06},
	} {
		position := map[string]any{"from": "receiver", "kind": "rtk-fixed", "error_m": 0.06, "stated_m": 0.05}
		maps.Copy(position, c.position)
		text := reading("one").with(".position", position).with(".accuracy_m", 0.01).text(t)
		f := Overlays(Fold([]Entry{{ID: idOf("one"), Text: text}}))[0].Features[0]
		if got := f.Properties["accuracy_m"]; got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// TestAnothersMark: whoever may mark may write a later entry of any mark; who wrote what
// stays, and an ID is nobody else's.
func TestAnothersMark(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	ada, eve := Sender{"ada's phone", "mark"}, Sender{"eve's phone", "mark"}
	send := func(from Sender, e entry) Receipt {
		t.Helper()
		r, err := b.Append(t.Context(), from, [][]byte{e.text(t)})
		if err != nil {
			t.Fatal(err)
		}
		return r[0]
	}
	one := reading("one")
	send(ada, one)
	later := one.then("later", Write, one).with("who", "Eve").with(".depth_m", 9).at(noon.Add(time.Minute))
	if r := send(eve, later); r.Refused != "" {
		t.Error(r)
	}
	for name, e := range map[string]entry{
		"the same ID":             one.with("who", "Eve"),
		"a later entry as a mark": later.then("x", Write, later).with("mark", idOf("later")),
		"a later entry's ID anew": reading("later"),
	} {
		if r := send(eve, e); r.Refused == "" {
			t.Errorf("%s: %+v", name, r)
		}
	}
	marks, err := b.Marks(t.Context())
	if err != nil || len(marks) != 1 || len(marks[0].All) != 2 {
		t.Fatalf("%+v, %v", marks, err)
	}
	for i, want := range []string{"ada's phone Ada", "eve's phone Eve"} {
		if v := marks[0].All[i]; v.Session+" "+v.Text.Who != want {
			t.Errorf("%s %s, want %s", v.Session, v.Text.Who, want)
		}
	}
	whole(t, b)
}
