//go:build outside

package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/store/postgres/trial"
)

// provider is somebody else's tile server, with a book of when it was asked
// for what.
type provider struct {
	*ledger
	mu    sync.Mutex
	asked map[string]int
	times []time.Time
}

func (p *provider) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	p.asked[r.URL.Path]++
	p.times = append(p.times, time.Now())
	p.mu.Unlock()
	p.ledger.ServeHTTP(w, r)
}

// busiest is the most requests within one second.
func (p *provider) busiest() int {
	slices.SortFunc(p.times, time.Time.Compare)
	most, from := 0, 0
	for i, at := range p.times {
		for at.Sub(p.times[from]) >= time.Second {
			from++
		}
		most = max(most, i-from+1)
	}
	return most
}

// managers are five computers of one office, with jobs that overlap.
type managers struct {
	*worker
	db *trial.Server
	*provider
}

// officeDatabase starts PostgreSQL with an empty database "office".
func officeDatabase(t *testing.T) *trial.Server {
	t.Helper()
	server, err := trial.Start(t.Context(), "fsync=off")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = server.Close() })
	if err := server.Database(t.Context(), "office"); err != nil {
		t.Fatal(err)
	}
	return server
}

func newManagers(t *testing.T, terms string) managers {
	t.Helper()
	server := officeDatabase(t)
	p := &provider{ledger: &ledger{stored: map[tiles.ID]bool{}, image: jpegOf(t, 256)}, asked: map[string]int{}}
	serving := httptest.NewServer(p)
	t.Cleanup(serving.Close)
	o := newWorker(t)
	o.write("sources.toml", strings.Replace(sourceText("town", serving.URL+"/{z}/{x}/{y}.jpg", ""), "requests_per_second = 2000\n", terms+"\n", 1))
	for i := range 5 {
		o.must(0, "new", o.path(fmt.Sprint("site-", i)), "--name", fmt.Sprint("Site ", i), "--around", fmt.Sprintf("40.5,%.5f", -140.5+0.0002*float64(i)),
			"--radius", "150ft", "--margin", "20ft", "--zooms", "15,22", "--source", "town")
	}
	return managers{o, server, p}
}

// packAll runs the five at once and gives their exit codes and all they said.
func (m managers) packAll() (codes []int, said string) {
	m.t.Helper()
	codes = make([]int, 5)
	var mu sync.Mutex
	var all sync.WaitGroup
	for i := range codes {
		c := exec.Command(os.Args[0], "pack", m.path(fmt.Sprint("site-", i)), "--sources", m.path("sources.toml"))
		c.Env = append(os.Environ(), "GROUNDSHEET_AS_PROGRAM=1", "GROUNDSHEET_STORE="+m.db.Address("office"))
		all.Go(func() {
			out, err := c.CombinedOutput()
			var exit *exec.ExitError
			if err != nil && !errors.As(err, &exit) {
				m.t.Error(err)
			}
			mu.Lock()
			defer mu.Unlock()
			codes[i] = c.ProcessState.ExitCode()
			said += fmt.Sprintf("-- site %d, exit code %d\n%s", i, codes[i], out)
		})
	}
	all.Wait()
	if strings.Contains(said, trial.Password) || strings.Contains(said, strings.ReplaceAll(trial.Password, " ", "%20")) {
		m.t.Errorf("the password was said:\n%s", said)
	}
	return codes, said
}

// TestOutsideFiveManagersOneProvider: five computers that pack at the same
// time ask for no tile twice, and together no faster than the terms allow.
func TestOutsideFiveManagersOneProvider(t *testing.T) {
	const rate = 60
	m := newManagers(t, fmt.Sprintf("requests_per_second = %d", rate))
	codes, said := m.packAll()
	if !slices.Equal(codes, make([]int, 5)) {
		t.Fatal(said)
	}
	for path, n := range m.asked {
		if n > 1 {
			t.Errorf("%s was asked for %d times", path, n)
		}
	}
	// Arrivals jitter on a busy machine; two runs at once would be twice the rate.
	if most := m.busiest(); most > rate*5/4 {
		t.Errorf("%d requests within a second, %d are allowed", most, rate)
	}
	if len(m.asked) < 3*rate {
		t.Errorf("only %d tiles were asked for: too few to show anything", len(m.asked))
	}
	t.Logf("%d tiles, at most %d within a second of the %d allowed", len(m.asked), m.busiest(), rate)
	for i := range 5 {
		p, err := pack.Open(context.Background(), m.path(fmt.Sprint("site-", i), "out", fmt.Sprintf("site-%d.mbtiles", i)))
		if err != nil {
			t.Fatal(err)
		}
		_ = p.Close()
	}
	asked := len(m.times)
	if codes, said := m.packAll(); !slices.Equal(codes, make([]int, 5)) || len(m.times) != asked {
		t.Errorf("packing again asked for %d more tiles\n%s", len(m.times)-asked, said)
	}
}

// TestOutsideFiveManagersOneBudget: together they stay within the day's tiles.
func TestOutsideFiveManagersOneBudget(t *testing.T) {
	const budget = 60
	m := newManagers(t, fmt.Sprintf("requests_per_second = 200\ntiles_per_day = %d", budget))
	codes, said := m.packAll()
	if len(m.times) != budget || !slices.Contains(codes, exitOutside) {
		t.Errorf("%d requests of %d a day\n%s", len(m.times), budget, said)
	}
	if _, said = m.packAll(); len(m.times) != budget {
		t.Errorf("run again on the same day: %d requests of %d\n%s", len(m.times), budget, said)
	}
}

// TestOutsidePlanMakesNoSchema: a plan changes nothing, in a database neither.
func TestOutsidePlanMakesNoSchema(t *testing.T) {
	m := newManagers(t, "requests_per_second = 200")
	t.Setenv("GROUNDSHEET_STORE", m.db.Address("office"))
	var out, errs strings.Builder
	if code := run(t.Context(), []string{"plan", m.path("site-0"), "--sources", m.path("sources.toml")}, &out, &errs); code != exitDone {
		t.Fatalf("exit code %d\n%s%s", code, out.String(), errs.String())
	}
	made, err := m.db.Query(t.Context(), "office", `SELECT count(*) FROM pg_namespace WHERE nspname = 'groundsheet'`)
	if err != nil || made != "0" {
		t.Errorf("%s schemas were made, %v", made, err)
	}
	if len(m.times) > 0 {
		t.Error("a plan asked the source")
	}
}
