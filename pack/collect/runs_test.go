package collect_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"groundsheet/pack/collect"
)

// namesOf are the names of the runs in an overlay, by the beginning of their IDs.
func namesOf(t *testing.T, dir, utility string) map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "overlays", "found-"+utility+".geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Features []struct{ Properties struct{ Run, Line string } }
	}
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	names := map[string]string{}
	for _, f := range all.Features {
		names[f.Properties.Run] = f.Properties.Line
	}
	return names
}

// A run keeps the name under which it came home: when an earlier book comes later, when its first
// reading is struck or it is labeled anew, when it came back after it was struck.
func TestNamesOfRunsStay(t *testing.T) {
	dir, at := site(t), t.TempDir()
	of := func(run string) properties { return properties{"line": id(run)} }
	late, early := filepath.Join(at, "late", "v.fieldbook"), filepath.Join(at, "early", "v.fieldbook")
	for _, b := range []string{late, early} {
		write(t, b+".x", "")
	}
	one, two := reading("one", 60, 1, of("b")), reading("two", 61, 2, of("b"))
	three, four := reading("three", 70, 8, of("c")), reading("four", 71, 9, of("c"))
	add(t, late, one, two, three, four)
	run(t, dir, late)
	expect := func(what string, want map[string]string) {
		t.Helper()
		got := namesOf(t, dir, "water")
		for name, line := range want {
			if got[id(name)] != line {
				t.Errorf("%s: run %s is %q, want %q", what, name, got[id(name)], line)
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s: %v", what, got)
		}
	}
	expect("at first", map[string]string{"b": "run 1 of 2026-11-29", "c": "run 2 of 2026-11-29"})

	add(t, early, reading("five", 1, 4, of("a")), reading("six", 2, 5, of("a")), reading("seven", 3, 6, of("b")))
	run(t, dir, early)
	expect("an earlier book", map[string]string{"a": "run 3 of 2026-11-29", "b": "run 1 of 2026-11-29", "c": "run 2 of 2026-11-29"})
	before := files(t, dir)
	if r := run(t, dir, early, late); r.Written {
		t.Error("written again")
	}
	same(t, before, files(t, dir))

	p := one["feature"].(map[string]any)["properties"].(map[string]any)
	p["label"] = "main"
	add(t, late, one.then("one b", "write", 80, "one"), three.then("x", "strike", 81, "three"), four.then("y", "strike", 82, "four"),
		reading("eight", 90, 3, of("d")), reading("nine", 91, 4, of("d")))
	run(t, dir, late)
	expect("one struck", map[string]string{"a": "run 3 of 2026-11-29", "b": "run 1 of 2026-11-29", "d": "run 4 of 2026-11-29"})
	add(t, late, three.then("x2", "restore", 92, "x"), four.then("y2", "restore", 93, "y"))
	run(t, dir, late)
	expect("and restored", map[string]string{"a": "run 3 of 2026-11-29", "b": "run 1 of 2026-11-29", "c": "run 2 of 2026-11-29", "d": "run 4 of 2026-11-29"})

	// A job of an earlier program has no file of names: they are those that its marks had.
	names := filepath.Join(dir, "fieldbooks", "runs.json")
	if err := os.Remove(names); err != nil {
		t.Fatal(err)
	}
	run(t, dir, late)
	if got := namesOf(t, dir, "water"); got[id("a")] != "run 1 of 2026-11-29" {
		t.Errorf("named anew: %v", got)
	}
	write(t, names, "{")
	before = files(t, dir)
	if _, err := collect.Run(t.Context(), dir, []string{late}, collect.Options{}); !errors.Is(err, collect.Broken) {
		t.Error(err)
	}
	same(t, before, files(t, dir))
}
