package fetch_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// TestMain lets the test binary be a second process that fetches.
func TestMain(m *testing.M) {
	if os.Getenv("GROUNDSHEET_FETCH_FROM") == "" {
		os.Exit(m.Run())
	}
	if err := secondProcess(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// secondProcess fetches what the environment says and prints its tally and
// when its requests left.
func secondProcess() error {
	n, err := strconv.Atoi(os.Getenv("GROUNDSHEET_FETCH_TILES"))
	if err != nil {
		return err
	}
	rate, err := strconv.ParseFloat(os.Getenv("GROUNDSHEET_FETCH_RATE"), 64)
	if err != nil {
		return err
	}
	st, err := folder.Open(os.Getenv("GROUNDSHEET_FETCH_STORE"))
	if err != nil {
		return err
	}
	defer st.Close()
	s, err := st.Shelf("county")
	if err != nil {
		return err
	}
	src := (&host0{os.Getenv("GROUNDSHEET_FETCH_FROM")}).source()
	src.Terms.RequestsPerSecond, src.Terms.Connections = rate, 4
	left := &departures{}
	o := quick()
	o.PassEvery, o.Client = 200*time.Millisecond, &http.Client{Transport: left}
	tally, err := fetch.Run(context.Background(), src, s, notYet(s, uint32(n)), o)
	if err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(report{tally, left.at})
}

// notYet draws the tiles of the row that the shelf does not hold when the
// first of them is drawn, as a plan does.
func notYet(s store.Shelf, n uint32) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		have := map[tiles.ID]bool{}
		for r, err := range s.In(context.Background(), tiles.NewCover(20, []tiles.Span{{Last: n}}), false) {
			if err != nil {
				panic(err)
			}
			have[r.ID] = true
		}
		for _, w := range row(n) {
			if !have[w.ID] && !yield(w, nil) {
				return
			}
		}
	}
}

type report struct {
	Tally fetch.Tally
	Left  []time.Time
}

func startSecond(t *testing.T, url, dir string, n int, rate float64) (wait func() report) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "GROUNDSHEET_FETCH_FROM="+url, "GROUNDSHEET_FETCH_STORE="+dir,
		fmt.Sprintf("GROUNDSHEET_FETCH_TILES=%d", n), fmt.Sprintf("GROUNDSHEET_FETCH_RATE=%v", rate))
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return func() (r report) {
		if err := json.NewDecoder(bufio.NewReader(out)).Decode(&r); err != nil {
			t.Errorf("second process: %v", err)
		}
		if err := c.Wait(); err != nil {
			t.Errorf("second process: %v", err)
		}
		return r
	}
}

// Two processes want the same tiles of one source. They take turns: every tile
// is asked for once, never more requests leave in a second than the terms
// allow, and never more connections are open.
func TestTwoProcessesKeepToOneRate(t *testing.T) {
	const rate, n = 60, 180
	h := serve(t, sends(plain))
	dir := t.TempDir()
	var done []report
	for _, wait := range []func() report{startSecond(t, h.URL, dir, n, rate), startSecond(t, h.URL, dir, n, rate)} {
		done = append(done, wait())
	}
	if h.requests() != n {
		t.Errorf("%d requests for %d tiles", h.requests(), n)
	}
	left := slices.Concat(done[0].Left, done[1].Left)
	slices.SortFunc(left, time.Time.Compare)
	if got := most(left); got > rate {
		t.Errorf("%d requests left within one second, stated are %d", got, rate)
	}
	for i, r := range done {
		if r.Tally.New+r.Tally.Brought != r.Tally.Wanted || r.Tally.New < n/10 {
			t.Errorf("process %d: %+v, want both to bring some", i, r.Tally)
		}
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.busiest > 4 { // the server sees later than its clients that connections are closed
		t.Errorf("%d requests at once, stated are 4 connections", h.busiest)
	}
}

// Within one process two runs go the same way.
func TestTwoRunsAlternate(t *testing.T) {
	var mu sync.Mutex
	times := map[string]int{}
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		times[r.URL.Path]++
		mu.Unlock()
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.RequestsPerSecond = 400
	s := shelf(t)
	var g sync.WaitGroup
	var waited atomic.Int32
	tallies := make([]fetch.Tally, 2)
	for i := range tallies {
		g.Go(func() {
			o := quick()
			o.PassEvery = 100 * time.Millisecond
			o.Waiting = func() { waited.Add(1) }
			wants := row(400)
			if i == 1 {
				slices.Reverse(wants) // it comes from the other end
			}
			var err error
			if tallies[i], err = run(src, s, wants, o); err != nil {
				t.Error(err)
			}
		})
	}
	g.Wait()
	for path, n := range times {
		if n != 1 {
			t.Errorf("%s was asked for %d times", path, n)
		}
	}
	a, b := tallies[0], tallies[1]
	if len(times) != 400 || a.New+b.New != 400 || settled(a) != 400 || settled(b) != 400 || min(a.New, b.New) < 20 {
		t.Errorf("%+v and %+v", a, b)
	}
	if n := waited.Load(); n < 1 || n > 2 {
		t.Errorf("told %d times to wait, want once a run at most", n)
	}
}

// Wants are drawn only while the run has the turn: what the run before brought
// is not asked for.
func TestWantsAreDrawnWithTheTurn(t *testing.T) {
	h := serve(t, sends(plain))
	s := shelf(t)
	turn, err := s.Lease(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var drawn, told atomic.Int32
	done := make(chan error)
	go func() {
		o := quick()
		o.Waiting = func() { told.Add(1) }
		_, err := fetch.Run(context.Background(), h.fast(), s, func(yield func(fetch.Want, error) bool) {
			drawn.Add(1)
			for _, w := range row(3) {
				if !yield(w, nil) {
					return
				}
			}
		}, o)
		done <- err
	}()
	time.Sleep(300 * time.Millisecond)
	if drawn.Load() != 0 || told.Load() != 1 || h.requests() != 0 {
		t.Errorf("drawn %d times, told %d times, %d requests before the turn", drawn.Load(), told.Load(), h.requests())
	}
	if err := turn.Release(context.Background(), store.RateState{}); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil || h.requests() != 3 {
		t.Errorf("%v, %d requests", err, h.requests())
	}
}

// The pace goes from run to run: the first requests of the next run count
// those of the run before, its pause and its slower rate.
func TestPaceIsHandedOver(t *testing.T) {
	const rate = 30
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.RequestsPerSecond = rate
	s := shelf(t)
	left := &departures{}
	o := quick()
	o.Client = &http.Client{Transport: left}
	for i := range 3 {
		wants := row(60)[i*20 : i*20+20]
		if _, err := run(src, s, wants, o); err != nil {
			t.Fatal(err)
		}
	}
	if got := most(left.at); got > rate {
		t.Errorf("%d requests left within one second, stated are %d", got, rate)
	}
	// A run that ended without a word: its requests are taken to have left just now.
	turn, err := s.Lease(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	_ = turn.Release(context.Background(), store.RateState{Until: time.Now().Add(700 * time.Millisecond), Share: 0.5})
	began := time.Now()
	if _, err := run(src, s, []fetch.Want{{ID: tiles.ID{Z: 20, X: 70}}}, o); err != nil || time.Since(began) < 650*time.Millisecond {
		t.Errorf("%v after %v: the pause of the run before holds", err, time.Since(began))
	}
	turn, err = s.Lease(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	p, ok := turn.RateState()
	if !ok || p.Share != 0.5 || len(p.Left) != 1 {
		t.Errorf("handed over: %+v, %v", p, ok)
	}
	_ = turn.Release(context.Background(), store.RateState{Until: time.Now().Add(time.Hour)})
	_, err = run(src, s, []fetch.Want{{ID: tiles.ID{Z: 20, X: 71}}}, o)
	stoppedFor(t, err, fetch.StopWait, "asked a run before to wait", "1 h more", "groundsheet source try county")
}

// A run that was killed hands nothing over: the next one begins as if all of
// a second's requests had just left.
func TestAfterAKilledRun(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.RequestsPerSecond = 20
	s := shelf(t)
	if _, err := run(src, s, row(1), quick()); err != nil {
		t.Fatal(err)
	}
	mute := &muteShelf{Shelf: s}
	began := time.Now()
	if _, err := fetch.Run(context.Background(), src, mute, each(row(2)[1:]), quick()); err != nil {
		t.Fatal(err)
	}
	if took := time.Since(began); took < 900*time.Millisecond {
		t.Errorf("asked after %v", took)
	}
}

// muteShelf forgets what the run before left, as after a kill.
type muteShelf struct{ store.Shelf }

type muteTurn struct{ store.Lease }

func (m *muteShelf) Lease(ctx context.Context, waiting func()) (store.Lease, error) {
	turn, err := m.Shelf.Lease(ctx, waiting)
	return muteTurn{turn}, err
}

func (muteTurn) RateState() (store.RateState, bool) { return store.RateState{}, false }

// A store that loses the turn in mid-run ends the run at once; what came is kept.
func TestLostTurnEndsTheRun(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.RequestsPerSecond = 200
	s := shelf(t)
	gone := errors.New("the server went away")
	o := quick()
	o.PassEvery = 200 * time.Millisecond
	tally, err := fetch.Run(context.Background(), src, &losing{s, gone}, each(row(1000)), o)
	if !errors.Is(err, gone) || tally.New == 0 || tally.New > 200 || len(held(t, s)) != tally.New {
		t.Errorf("%+v, %v", tally, err)
	}
}

type losing struct {
	store.Shelf
	err error
}

type lostTurn struct {
	store.Lease
	err error
}

func (l *losing) Lease(ctx context.Context, waiting func()) (store.Lease, error) {
	turn, err := l.Shelf.Lease(ctx, waiting)
	return lostTurn{turn, l.err}, err
}

func (l lostTurn) Wanted(context.Context) (bool, error) { return false, l.err }

var _ fetch.Shelf = store.Shelf(nil)

// settled is the number of wants that need nothing more for now.
func settled(t fetch.Tally) int {
	return t.Came() + t.Unchanged + t.Absent + t.Withdrawn + t.Brought + t.StoodIn
}
