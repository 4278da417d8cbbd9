package main

import (
	"strings"
	"testing"
)

// TestPlanPictureSaysItsGround: the terminal tells what the ground was made of,
// also beside JSON.
func TestPlanPictureSaysItsGround(t *testing.T) {
	o := newDesk(t)
	o.must(0, "new", o.path("site"), "--name", "x", "--around", "40.5,-140.5", "--radius", "60ft", "--source", "practice")
	draw := func(more ...string) string {
		t.Helper()
		code, out, err := o.do(append([]string{"plan", o.path("site"), "--picture", o.path("plan.png")}, more...)...)
		if code != 0 {
			t.Fatalf("%d %s%s", code, out, err)
		}
		return err
	}
	if said := draw(); !strings.Contains(said, "plain ground: none of") {
		t.Errorf("nothing is held: %s", said)
	}
	if said := draw("--sample", "20"); !strings.Contains(said, "drawn over the held imagery: ") || !strings.Contains(said, "enlarged") {
		t.Errorf("some is held: %s", said)
	}
	o.must(0, "pack", o.path("site"))
	if said := draw("--json"); !strings.Contains(said, "drawn over the held imagery: ") || strings.Contains(said, "elsewhere") {
		t.Errorf("all is held: %s", said)
	}
}
