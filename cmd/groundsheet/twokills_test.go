package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"iter"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

const (
	daysAgo  = 40  // the first day of the test; every day has its own budget
	aDay     = 900 // tiles of it
	atOnce   = 4
	nothing  = 3 // exit code of a witness whose day is used up
	longLife = "90d"
)

// telling is a shelf that says on stdout which tiles Keep returned for.
type telling struct{ store.Shelf }

func (s telling) Keep(ctx context.Context, recs []store.Held) (store.Kept, error) {
	kept, err := s.Shelf.Keep(ctx, recs)
	if err == nil {
		var out strings.Builder
		for _, r := range recs {
			fmt.Fprintln(&out, "kept", r.ID)
		}
		os.Stdout.WriteString(out.String())
	}
	return kept, err
}

// held opens the store of an office for reading and fetching.
func held(dir string) (*folder.Store, store.Shelf, source.Source, error) {
	book, err := source.ReadFile(filepath.Join(dir, "sources.toml"))
	if err != nil {
		return nil, nil, source.Source{}, err
	}
	src, err := book.Find("town")
	if err != nil {
		return nil, nil, src, err
	}
	st, err := folder.Open(filepath.Join(dir, "store"))
	if err != nil {
		return nil, nil, src, err
	}
	shelf, err := st.Shelf(src.StoreName())
	return st, shelf, src, err
}

func siteCovers(site string) ([]tiles.Cover, error) {
	job, err := job.Read(site)
	if err != nil {
		return nil, err
	}
	area, _, err := job.ReadArea()
	if err != nil {
		return nil, err
	}
	return area.Covers(job.Bases[0].Zooms, job.Margin.Meters()), nil
}

// witness fetches what a site lacks, as fast as the source answers, on a day
// given by its number. It is the process that is killed.
func witness(dir, site string) int {
	err := func() error {
		st, shelf, src, err := held(dir)
		if err != nil {
			return err
		}
		defer st.Close()
		covers, err := siteCovers(filepath.Join(dir, site))
		if err != nil {
			return err
		}
		var day int
		fmt.Sscan(os.Getenv("GROUNDSHEET_WITNESS_DAY"), &day)
		src.Terms.Contact = fmt.Sprint("day ", day)
		now := func() time.Time { return time.Now().Add(time.Duration(day-daysAgo) * 24 * time.Hour) }
		told := 0
		_, err = fetch.Run(context.Background(), src, telling{shelf}, lacking(shelf, covers), fetch.Options{
			Unpaced: true, Now: now, PassEvery: 50 * time.Millisecond, BatchSize: 16, BatchEvery: 50 * time.Millisecond,
			Progress: func(t fetch.Tally) {
				if t.New != told {
					told = t.New
					fmt.Println("new", told)
				}
			},
		})
		return err
	}()
	var stopped *fetch.Stop
	switch {
	case err == nil:
		return 0
	case errors.As(err, &stopped) && stopped.Why == fetch.StopBudget:
		return nothing
	}
	fmt.Fprintln(os.Stderr, err)
	return 1
}

func lacking(shelf store.Shelf, covers []tiles.Cover) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		for p, err := range store.Compare(context.Background(), shelf, false, covers...) {
			if (err != nil || !p.Has) && !yield(fetch.Want{ID: p.ID}, err) {
				return
			}
		}
	}
}

// counting is the ledger's server with a count of each day's requests.
type counting struct {
	*ledger
	days sync.Map // "day 3" → *int, under the ledger's lock
}

func (c *counting) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	agent := r.UserAgent()
	if _, day, found := strings.Cut(agent, "(day "); found {
		n, _ := c.days.LoadOrStore(strings.TrimSuffix(day, ")"), new(int))
		c.mu.Lock()
		*n.(*int)++
		c.mu.Unlock()
	}
	time.Sleep(2 * time.Millisecond)
	c.ledger.ServeHTTP(w, r)
}

// fetching is one witness and what it has told so far.
type fetching struct {
	site string
	cmd  *exec.Cmd
	done chan struct{} // closed when it ended and everything it said was read
	mu   sync.Mutex
	kept []tiles.ID
	news int // by Progress, of this process
	err  error
}

// twoKills is the state of the test.
type twoKills struct {
	t      *testing.T
	o      *worker
	server *counting
	day    int
	pair   int // of sites that are fetched now
	sites  []string
	proved int
}

func (k *twoKills) start(site string) *fetching {
	k.t.Helper()
	f := &fetching{site: site, cmd: exec.Command(os.Args[0], site), done: make(chan struct{})}
	f.cmd.Env = append(os.Environ(), "GROUNDSHEET_AS_WITNESS="+k.o.dir, fmt.Sprint("GROUNDSHEET_WITNESS_DAY=", k.day))
	var complaint strings.Builder
	f.cmd.Stderr = &complaint
	out, err := f.cmd.StdoutPipe()
	if err != nil {
		k.t.Fatal(err)
	}
	if err := f.cmd.Start(); err != nil {
		k.t.Fatal(err)
	}
	go func() {
		defer close(f.done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			k.hear(f, lines.Text())
		}
		f.err = f.cmd.Wait()
		if complaint.Len() > 0 {
			f.err = fmt.Errorf("%w: %s", f.err, complaint.String())
		}
	}()
	return f
}

// hear notes what is reported as stored: from then on nobody may ask for it.
// A batch is told in one short write, which a kill does not cut (pipe(7),
// PIPE_BUF).
func (k *twoKills) hear(f *fetching, line string) {
	what, value, _ := strings.Cut(line, " ")
	f.mu.Lock()
	defer f.mu.Unlock()
	switch what {
	case "new":
		fmt.Sscan(value, &f.news)
	case "kept":
		if id, err := tiles.ParseID(value); err == nil {
			f.kept = append(f.kept, id)
			k.server.mu.Lock()
			k.server.stored[id] = true
			k.server.mu.Unlock()
		}
	}
}

// newPair makes two jobs over partly the same ground.
func (k *twoKills) newPair() [2]string {
	k.t.Helper()
	k.pair++
	var out [2]string
	for i, lon := range []float64{-140.5, -140.497} {
		out[i] = fmt.Sprintf("site-%d-%d", k.pair, i)
		at := fmt.Sprintf("%.1f,%.3f", 40+float64(k.pair)/10, lon)
		k.o.must(0, "new", k.o.path(out[i]), "--name", out[i], "--around", at, "--radius", "1100ft", "--margin", "20ft", "--zooms", "20,20")
	}
	k.sites = append(k.sites, out[:]...)
	return out
}

// prove reads the store as another process would: everything that was reported
// as stored is there, and its image matches its hash.
func (k *twoKills) prove(f *fetching) {
	k.t.Helper()
	st, shelf, _, err := held(k.o.dir)
	if err != nil {
		k.t.Fatal(err)
	}
	defer st.Close()
	f.mu.Lock()
	kept, news := f.kept, f.news
	f.mu.Unlock()
	if news > len(kept) {
		k.t.Fatalf("progress told of %d new tiles, Keep had returned for %d", news, len(kept))
	}
	for _, id := range kept {
		r, ok, err := shelf.Get(k.t.Context(), id)
		if err != nil || !ok || r.Hole || len(r.Data) == 0 {
			k.t.Fatalf("tile %s was reported as stored: held %v, %v", id, ok, err)
		}
	}
	k.proved += len(kept)
}

// ended tells how a witness ended that nobody killed.
func (k *twoKills) ended(f *fetching) (dayOver bool) {
	k.t.Helper()
	code := f.cmd.ProcessState.ExitCode()
	if code != 0 && code != nothing {
		k.t.Fatalf("a witness failed by itself: %v", f.err)
	}
	k.prove(f)
	return code == nothing
}

func (k *twoKills) await(f *fetching) {
	k.t.Helper()
	select {
	case <-f.done:
	case <-time.After(time.Minute):
		_ = f.cmd.Process.Kill()
		<-f.done
		k.t.Fatal("a witness does not end")
	}
}

// untilKilled runs two witnesses until so many were killed.
func (k *twoKills) untilKilled(kills int, r *rand.Rand) {
	sites := k.newPair()
	var two [2]*fetching
	finished := [2]bool{}
	begin := func(i int) {
		if !finished[i] {
			two[i] = k.start(sites[i])
		}
	}
	begin(0)
	begin(1)
	for kills > 0 {
		i := r.IntN(2)
		if finished[i] {
			i = 1 - i
		}
		select {
		case <-two[i].done:
			if !k.ended(two[i]) {
				finished[i] = true
			} else { // the other one's day is over too
				if other := 1 - i; !finished[other] {
					k.await(two[other])
					finished[other] = !k.ended(two[other])
				}
				k.day++
				begin(1 - i)
				begin(i)
			}
		case <-time.After(time.Duration(20+r.IntN(300)) * time.Millisecond):
			_ = two[i].cmd.Process.Kill() // it may just have ended
			<-two[i].done
			if two[i].cmd.ProcessState.Exited() {
				continue
			}
			kills--
			k.prove(two[i])
			begin(i)
		}
		if finished[0] && finished[1] {
			sites, finished = k.newPair(), [2]bool{}
			begin(0)
			begin(1)
		}
	}
	for i, f := range two {
		if !finished[i] {
			_ = f.cmd.Process.Kill()
			<-f.done
			k.prove(f)
		}
	}
}

// TestKilledByTwos: two processes fetch for two jobs over partly the same
// ground into one store and are killed at random moments, 100 times with CI
// set. Nothing that was reported as stored is lost or asked for again, no day's
// budget is exceeded, and the program then makes packs that are fit.
func TestKilledByTwos(t *testing.T) {
	kills := 25
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		kills = 100
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	o := newWorker(t)
	server := &counting{ledger: &ledger{stored: map[tiles.ID]bool{}, image: jpegOf(t, 256)}}
	listening := httptest.NewServer(server)
	t.Cleanup(listening.Close)
	text := strings.NewReplacer("requests_per_second = 2000", "requests_per_second = 5\nkeep_at_least = \""+longLife+"\"\ntime_zone = \"UTC\"",
		"connections = 8", fmt.Sprint("connections = ", atOnce)).Replace(sourceText("town", listening.URL+"/{z}/{x}/{y}.jpg", ""))
	o.write("sources.toml", text+fmt.Sprint("tiles_per_day = ", aDay, "\n"))
	k := &twoKills{t: t, o: o, server: server}
	k.untilKilled(kills, rand.New(rand.NewPCG(seed, 1)))

	days := 0
	server.days.Range(func(day, n any) bool {
		if days++; *n.(*int) > aDay {
			t.Errorf("day %v: %d requests, %d are allowed", day, *n.(*int), aDay)
		}
		return true
	})
	o.write("sources.toml", strings.Replace(text, "requests_per_second = 5\n", "requests_per_second = 2000\n", 1))
	for _, site := range k.sites {
		var p packed
		decode(t, o.must(0, "pack", o.path(site), "--json"), &p)
		if p.Verdict != check.Fit || p.Absent != 0 {
			t.Errorf("%s: %+v", site, p)
		}
	}
	if again := server.again; len(again) > 0 {
		t.Errorf("stored, and asked for again: %v", slices.Compact(again))
	}
	if k.proved < kills {
		t.Errorf("only %d tiles were reported as stored over %d kills: the test did not test", k.proved, kills)
	}
	t.Logf("%d kills over %d days and %d jobs, %d tiles reported as stored, all held", kills, days, len(k.sites), k.proved)
}
