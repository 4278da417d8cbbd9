package listen

import (
	"context"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"testing"

	"groundsheet/serve/announce"
	"groundsheet/serve/auth"
)

// TestNameTaken: a name that leads to another computer is not announced a second
// time, and the person at the terminal is told.
func TestNameTaken(t *testing.T) {
	const name = "crew-11-of-a-test"
	stop, err := announce.Start(name, netip.MustParseAddr("192.0.2.7")) // of documentation (RFC 5737)
	if err != nil {
		t.Logf("this machine has no network to announce on: %v", err)
		return
	}
	opening := func() (o Access) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		if err := Serve(ctx, "0.0.0.0:0", http.NotFoundHandler(), Options{Name: name, Auth: auth.Options{Page: joinFS}}, func(got Access) { o = got; cancel() }); err != nil {
			t.Fatal(err)
		}
		return o
	}
	told := func(o Access) bool {
		return slices.ContainsFunc(o.Notes, func(n string) bool { return strings.Contains(n, "192.0.2.7") })
	}
	if o := opening(); o.Name != "" || !told(o) {
		t.Errorf("taken: %q, %q", o.Name, o.Notes)
	}
	stop()
	if o := opening(); o.Name != name+".local" || told(o) {
		t.Errorf("free: %q, %q", o.Name, o.Notes)
	}
}
