package main

import (
	"os"
	"strings"
	"testing"
)

// TestNewTakesPlaces: a place in each form makes the same job as in degrees; one
// that looks like a slip is taken with --yes, and the plan asks again.
func TestNewTakesPlaces(t *testing.T) {
	o := newDesk(t)
	for i, c := range []struct{ name, flag, typed, want, says string }{
		{"degrees", "--around", "40.5,-140.5", `center = "40.5,-140.5"`, ""},
		{"seconds", "--around", "40 30 00 N 140 30 00 W", `center = "40.5,-140.5"`, ""},
		{"UTM", "--around", "13N 498945 4429136", `center = "40.01242187`, ""},  // GeoConvert: 40.012421875 -105.012361703
		{"MGRS", "--around", "13T DE 98945 29136", `center = "40.01242638`, ""}, // GeoConvert: 40.012426380 -105.012355845
		{"box", "--box", "40.5,-140.5,40.501,-140.499", `to = "40.501,-140.499"`, ""},
		{"box of seconds", "--box", "40 30 00 N 140 30 00 W; 40 30 03.6 N 140 29 56.4 W", `to = "40.501,-140.499"`, ""},
		{"as written", "--around", "43.2,112.1", `center = "43.2,112.1"`, "is outside the United States: did you mean 43.2, -112.1?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := o.path("site" + string(rune('a'+i)))
			args := []string{"new", dir, "--name", c.name, c.flag, c.typed, "--zooms", "17,18", "--fit-in", "300MB", "--yes"}
			if c.flag == "--around" {
				args = append(args, "--radius", "100ft")
			}
			o.must(0, args...)
			text, err := os.ReadFile(dir + "/job.toml")
			if err != nil || !strings.Contains(string(text), c.want) || !strings.Contains(string(text), `fit_in = "300MB"`) {
				t.Fatalf("%v\n%s", err, text)
			}
			if _, out, _ := o.do("plan", dir); !strings.Contains(out, c.says) {
				t.Errorf("%s", out)
			}
		})
	}
}
