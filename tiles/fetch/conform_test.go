package fetch_test

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// said is one answer of a server.
type said struct {
	status int      // 0 = 200
	fields []string // "Name: value"
	body   []byte   // nil = the plain tile, for a 200
}

// rule is one row of the conformance table: what a server says to a run that
// holds nothing, what it says to a second run that asks again for what the
// first one kept, and what must come of both.
type rule struct {
	rule string // section and what it says
	tls  bool
	may  bool // offline = "permission"
	most time.Duration

	says said
	stop fetch.Reason // the first run ends so; "" = it does not
	kept string       // "image", "hole" or "nothing"
	want traits

	then  *said // to the second run; nil = there is none
	sent  string
	comes string // of the second run: the count of the tally that is 1
	ends  fetch.Reason
	after string // "image", "other" (another image) or "hole"
	left  *traits
}

// traits are those of what is kept.
type traits struct {
	fresh          time.Duration // from receipt; 0 = stale at once
	usable         time.Duration // from receipt; 0 = may not stand in
	etag, modified string
	fixed, settled bool // no-transform, immutable
}

// conformHost serves the answers in turn and remembers the conditions it was asked with.
type conformHost struct {
	mu   sync.Mutex
	say  said
	sent string
}

func (c *conformHost) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sent = strings.Trim(r.Header.Get("If-None-Match")+" "+r.Header.Get("If-Modified-Since"), " ")
	for _, f := range c.say.fields {
		name, value, _ := strings.Cut(f, ": ")
		w.Header().Add(name, strings.ReplaceAll(value, "NOW", time.Now().UTC().Format(http.TimeFormat)))
	}
	body := c.say.body
	if c.say.status != 0 {
		w.WriteHeader(c.say.status)
	} else if body == nil {
		body = plain
	}
	w.Write(body)
}

func (c *conformHost) set(s said) {
	c.mu.Lock()
	c.say, c.sent = s, ""
	c.mu.Unlock()
}

// tableMade is when the dates of the table were written: on a busy machine a row
// may run much later, and is less fresh by so much.
var tableMade time.Time

// The conformance table against a real server.
func TestConformance(t *testing.T) {
	tableMade = time.Now()
	for _, c := range conformance() {
		t.Run(c.rule, func(t *testing.T) { t.Parallel(); c.check(t) })
	}
}

func (c rule) check(t *testing.T) {
	host := &conformHost{}
	server := httptest.NewUnstartedServer(host)
	server.Config.ErrorLog = quietLog()
	if c.tls {
		server.StartTLS()
	} else {
		server.Start()
	}
	defer server.Close()
	src := (&host0{server.URL}).source()
	src.Terms.KeepAtMost = measure.Age(c.most)
	if c.may {
		src.Terms.Offline, src.Terms.Permission = source.OfflinePermission, "letter of 2026-03-01"
	}
	o := quick()
	o.Client, o.Attempts = server.Client(), 2
	s := shelf(t)

	host.set(c.says)
	_, err := run(src, s, row(1), o)
	if got := stopName(err); got != c.stop {
		t.Fatalf("first run ends with %q (%v), want %q", got, err, c.stop)
	}
	records := held(t, s)
	switch {
	case c.kept == "nothing" && len(records) == 0:
		return
	case len(records) != 1 || kindOf(records[0]) != c.kept:
		t.Fatalf("%d kept %v, want %s", len(records), records, c.kept)
	}
	c.want.check(t, "first", records[0])
	if c.then == nil {
		return
	}
	host.set(*c.then)
	tally, err := run(src, s, []fetch.Want{{ID: records[0].ID, Held: records[0]}}, o)
	if host.sent != c.sent {
		t.Errorf("asked with %q, want %q", host.sent, c.sent)
	}
	counts := map[string]int{"new": tally.New, "changed": tally.Changed, "same": tally.Same, "unchanged": tally.Unchanged, "absent": tally.Absent,
		"gone": tally.Gone, "withdrawn": tally.Withdrawn, "stood in": tally.StoodIn, "failed": tally.Failed}
	if c.ends == "" && counts[c.comes] != 1 || stopName(err) != c.ends {
		t.Errorf("second run: %+v, %v, want 1 %s", tally, err, c.comes)
	}
	records2 := held(t, s)
	if len(records2) != 1 || kindOf(records2[0]) != c.after {
		t.Fatalf("after: %v, want %s", records2, c.after)
	}
	if c.left != nil {
		c.left.check(t, "second", records2[0])
	}
}

func stopName(err error) fetch.Reason {
	if s, ok := errors.AsType[*fetch.Stop](err); ok {
		return s.Why
	}
	return ""
}

// host0 is a server at an address, for terms that do not hold a test up and
// add nothing to what HTTP says.
type host0 struct{ URL string }

func (h *host0) source() source.Source {
	src := (&host{Server: &httptest.Server{URL: h.URL}}).fast()
	src.Terms.KeepAtLeast = 0
	return src
}

func kindOf(r store.Held) string {
	switch {
	case r.Hole:
		return "hole"
	case string(r.Data) == string(plain):
		return "image"
	}
	return "other"
}

func (w traits) check(t *testing.T, which string, r store.Held) {
	t.Helper()
	near := func(what string, got, want time.Duration) {
		late := time.Since(tableMade)
		if got > want+2*time.Second+late || got < want-15*time.Second-late || want == 0 && got != 0 {
			t.Errorf("%s: %s for %v, want %v", which, what, got, want)
		}
	}
	near("fresh", r.FreshUntil.Sub(r.Fetched), w.fresh)
	if w.usable == 0 && !r.UsableUntil.IsZero() {
		t.Errorf("%s: may stand in until %v, want never", which, r.UsableUntil)
	} else if w.usable > 0 {
		near("usable", r.UsableUntil.Sub(r.Fetched), w.usable)
	}
	got := traits{w.fresh, w.usable, r.ETag, r.LastModified, r.Fixed, r.Immutable}
	if got != w {
		t.Errorf("%s: %+v, want %+v", which, got, w)
	}
}
