package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/tiles/practice"
)

// TestServePosition: the terminal says what a receiver is and that a recording
// is none; a receiver that is not there does not keep the map away.
func TestServePosition(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	walk := o.write("walk.nmea", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n$GPRMC,194812.00,V,,,,,,,290317,,,N*74\r\n")
	for _, c := range []struct {
		receiver string
		says     []string
	}{
		{"file:" + walk, []string{"position: recording walk.nmea says where it is: satellites without corrections; recorded, so it is not shown as live"}},
		{"serial:" + o.path("no-such-port"), []string{"position: serial port no-such-port is away", "see that the receiver is plugged in", "it is tried again"}},
	} {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		var out, errs bytes.Buffer
		a := &app{out: &out, err: &errs, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
		code := a.run(ctx, []string{"serve", o.packPath(), "--listen", "127.0.0.1:0", "--position", c.receiver})
		cancel()
		for _, words := range append(c.says, "map: http://127.0.0.1:") {
			if code != 0 || !strings.Contains(out.String(), words) {
				t.Errorf("exit %d, %q is not in\n%s%s", code, words, out.String(), errs.String())
			}
		}
		if n := strings.Count(out.String(), "is away"); n > 1 {
			t.Errorf("told %d times:\n%s", n, out.String())
		}
	}
}
