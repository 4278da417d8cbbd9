package job

import (
	"strings"
	"testing"
)

// TestBadValueNamesItsKey: whatever is refused, the message begins with the line
// and names the key.
func TestBadValueNamesItsKey(t *testing.T) {
	const job = `name = "x"
margin = "50ft"
units = "us"

[[around]]
center = "40.5,-140.5"
radius = "10m"

[[base]]
source = "s"
zooms = [14, 21]

[[overlay]]
file = "utility.csv"
utility = "water"

[[overlay]]
file = "b.csv"
utility = "gas"

[tolerance]
each_side = "24in"

[[rule]]
between = ["gas", "any"]
vertical = "12in"
by = "a"

[ticket]
number = "1"
`
	for _, c := range []struct{ from, to, want string }{
		{`"50ft"`, `"24"`, `line 2: margin: "24" has no unit: write 24ft, 24in or 24m`},
		{`"50ft"`, `24`, `line 2: margin: "24" has no unit`},
		{`"50ft"`, `"wide"`, `line 2: margin: distance "wide": want a number with a unit`},
		{`"50ft"`, `"50mi"`, `line 2: margin is`},
		{`units = "us"`, `units = "feet"`, `line 3: units = "feet"`},
		{`units = "us"`, `fit_in = "2"`, `line 3: fit_in: "2" has no unit: write 2GB or 2MB`},
		{`units = "us"`, `depth_slope = -1`, `line 3: depth_slope is -1`},
		{`units = "us"`, `expected = ["gaz"]`, `line 3: expected: `},
		{`name = "x"`, `name = ""`, `line 1: name is empty`},
		{`"40.5,-140.5"`, `"here"`, `line 6: [[around]] center: `},
		{`"10m"`, `"0m"`, `line 7: an [[around]] has no radius`},
		{`"10m"`, `10`, `line 7: around.radius: "10" has no unit`},
		{`[14, 21]`, `[14]`, `line 11: base "s": zooms wants two numbers`},
		{`[14, 21]`, `[21, 14]`, `line 11: base "s": zooms 21 to 14`},
		{`[14, 21]`, "[14, 21]\njpeg_quality = 200", `line 12: base "s": jpeg_quality is 200`},
		{`"water"`, `"watr"`, `line 15: overlay utility.csv: utility "watr"`},
		{`"gas"`, `"gaz"`, `line 19: overlay b.csv: utility "gaz"`},
		{`"gas"`, "\"gas\"\nrecorded = \"soon\"", `line 20: overlay b.csv: recorded = "soon"`},
		{`"gas"`, "\"gas\"\nshift = \"x\"", `line 20: overlay b.csv: shift = "x"`},
		{`"gas"`, "\"gas\"\naccuracy = 3", `line 20: overlay.accuracy: "3" has no unit`},
		{`"24in"`, `"24"`, `line 22: tolerance.each_side: "24" has no unit`},
		{`["gas", "any"]`, `["gas"]`, `line 25: [[rule]] number 1: between wants two`},
		{`"12in"`, `12`, `line 26: rule.vertical: "12" has no unit`},
		{`number = "1"`, `valid_until = "20 Dec"`, `line 30: ticket valid_until`},
		{`number = "1"`, `numbr = "1"`, `line 30: the key "ticket.numbr" is not known`},
	} {
		if !strings.Contains(job, c.from) {
			t.Fatalf("the case %s does not fit the job", c.from)
		}
		_, err := Parse([]byte(strings.Replace(job, c.from, c.to, 1)), "site")
		if err == nil || !strings.Contains(err.Error(), "job.toml: "+c.want) {
			t.Errorf("%v\n     want %s", err, c.want)
		}
	}
	if _, err := Parse([]byte(job), "site"); err != nil {
		t.Fatal(err)
	}
}
