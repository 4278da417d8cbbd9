//go:build outside

package main

import (
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"

	"groundsheet/pack/check"
	"groundsheet/tiles"
)

// heavier is an image with a comment of 20 KB.
func heavier(image []byte) []byte {
	const more = 20000
	return slices.Concat(image[:2], []byte{0xff, 0xfe, more >> 8, more & 0xff}, make([]byte, more-2), image[2:])
}

// TestOutsideDiskFullWhileFetching fills the disk under the store in the middle
// of fetching. What was kept is there, and when there is room again only the
// rest is asked for.
func TestOutsideDiskFullWhileFetching(t *testing.T) {
	o := newWorker(t)
	l := &ledger{stored: map[tiles.ID]bool{}, image: heavier(jpegOf(t, 256))}
	server := httptest.NewServer(l)
	t.Cleanup(server.Close)
	o.source("town", server.URL+"/{z}/{x}/{y}.jpg", "")
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "1100ft", "--margin", "20ft", "--zooms", "20,20")
	if err := os.MkdirAll(o.path("store"), 0o755); err != nil {
		t.Fatal(err)
	}
	tool(t, o.dir, "mount", "-t", "tmpfs", "-o", "size=9m", "tmpfs", o.path("store"))
	t.Cleanup(func() { tool(t, o.dir, "umount", o.path("store")) })
	code, out, errText := o.do("pack", o.path("site"))
	if code != exitOutside || !strings.Contains(errText, "free some room") || !strings.Contains(errText, o.path("store")) || !strings.Contains(errText, "run again") {
		t.Fatalf("exit %d: %s%s", code, out, errText)
	}
	if _, err := os.Stat(o.packPath()); !os.IsNotExist(err) {
		t.Errorf("a pack stands there: %v", err)
	}
	l.look(t, o)
	kept := len(l.stored)
	tool(t, o.dir, "mount", "-o", "remount,size=60m", o.path("store"))
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Verdict != check.Fit || kept == 0 || p.Fetched != p.Wanted-int64(kept) || p.Reused != int64(kept) || len(l.again) > 0 {
		t.Errorf("%d tiles were kept before the disk was full, then %+v; asked for again: %v", kept, p, l.again)
	}
	t.Logf("%d of %d tiles were kept when the disk was full", kept, p.Wanted)
}
