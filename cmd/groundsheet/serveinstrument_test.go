package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/tiles/practice"
)

// TestServeInstrument: the job states how the lines of its instrument are read; the pack
// carries that to the site.
func TestServeInstrument(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	lines := o.write("day.txt", "D=1.2,F=33\nD=deep\n")
	serve := func(code int) string {
		ctx, cancel := context.WithTimeout(t.Context(), 4*time.Second)
		defer cancel()
		var out, errs bytes.Buffer
		a := &app{out: &out, err: &errs, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
		if got := a.run(ctx, []string{"serve", o.packPath(), "--listen", "127.0.0.1:0", "--instrument", "file:" + lines}); got != code {
			t.Errorf("exit %d\n%s%s", got, out.String(), errs.String())
		}
		return out.String() + errs.String()
	}
	if said := serve(2); !strings.Contains(said, "no pack that is served states how its lines are read") {
		t.Errorf("without a format: %s", said)
	}
	job := o.path("site", "job.toml")
	text, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	const stated = "\n[instrument]\nname = \"locator 3\"\nform = \"key=value\"\ncolumns = { depth = \"D\", frequency = \"F\" }\n"
	if err := os.WriteFile(job, append(text, stated...), 0o644); err != nil {
		t.Fatal(err)
	}
	if code, _, said := o.do("pack", o.path("site")); code != 2 || !strings.Contains(said, "units of depth") {
		t.Errorf("no unit is stated: exit %d, %s", code, said)
	}
	if err := os.WriteFile(job, append(text, stated+"units = { depth = \"m\", frequency = \"kHz\" }\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	o.must(0, "pack", o.path("site"))
	said := serve(0)
	for _, words := range []string{
		"instrument: locator 3 recording day.txt is understood", "a line was not understood", "the recording is over; lines not understood: 1",
	} {
		if !strings.Contains(said, words) {
			t.Errorf("%q is not in\n%s", words, said)
		}
	}
}
