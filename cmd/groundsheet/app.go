package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"

	"github.com/spf13/cobra"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/pack/plan"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/words"
)

// app is what every command shares: where words go, and the global flags.
type app struct {
	mu          sync.Mutex // guards out
	page        fs.FS      // the map page; nil = the built-in one
	out, err    io.Writer  // where words go; what acts on a screen comes out in letters
	bare        outs       // what out and err lead to
	storeAt     string     // a folder or an address; "" = see storePlace
	sourcesFile string
	quiet       bool
	logJSON     bool
}

// outs are where a program's words go.
type outs struct{ out, err io.Writer }

// plain lets nothing from a file, a source or an argument act on the screen,
// whoever writes it. Bars, colours and JSON go to the bare writers.
func (a *app) plain() (end func()) {
	a.bare = outs{a.out, a.err}
	out, err := words.NewWriter(a.out), words.NewWriter(a.err)
	a.out, a.err = out, err
	return func() { _ = errors.Join(out.Close(), err.Close()) } // a failing screen is nobody's to tell
}

// say writes a line of result to stdout.
func (a *app) say(format string, args ...any) {
	a.mu.Lock()
	defer a.mu.Unlock()
	fmt.Fprintf(a.out, format+"\n", args...)
}

// note writes a line of progress to stderr.
func (a *app) note(format string, args ...any) {
	switch {
	case a.quiet:
	case a.logJSON:
		a.log().Info(fmt.Sprintf(format, args...))
	default:
		fmt.Fprintf(a.err, format+"\n", args...)
	}
}

// log is for machines; what people need to know is in the errors.
func (a *app) log() *slog.Logger {
	if a.logJSON {
		return slog.New(slog.NewJSONHandler(words.NewJSONWriter(a.bare.err), nil))
	}
	return slog.New(slog.NewTextHandler(a.err, &slog.HandlerOptions{Level: slog.LevelError}))
}

// json prints a document: the only one of a call indented, several one a line.
func (a *app) json(v any, only bool) error {
	e := json.NewEncoder(words.NewJSONWriter(a.bare.out))
	if only {
		e.SetIndent("", "  ")
	}
	return e.Encode(v)
}

// book finds the operator's sources: the flag's file, the job's own, the
// user's. None of them is an empty book, which still knows the practice source.
func (a *app) book(jobDir string) (source.Config, error) {
	if a.sourcesFile != "" {
		return source.ReadFile(a.sourcesFile)
	}
	places := []string{}
	if jobDir != "" {
		places = append(places, filepath.Join(jobDir, "sources.toml"))
	}
	if dir, err := os.UserConfigDir(); err == nil {
		places = append(places, filepath.Join(dir, "groundsheet", "sources.toml"))
	}
	for _, path := range places {
		if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
			continue
		}
		return source.ReadFile(path)
	}
	return source.Config{}, nil
}

// work is a job opened for planning or packing.
type work struct {
	job   job.Job
	book  source.Config
	store store.Store // nil when there is none yet
}

// open reads the job and its sources, and opens the store if there is one: a
// plan changes nothing on disk.
func (a *app) open(ctx context.Context, dir string) (*work, error) {
	job, err := job.Read(dir)
	if err != nil {
		return nil, err
	}
	book, err := a.book(dir)
	if err != nil {
		return nil, err
	}
	w := &work{job: job, book: book}
	for _, b := range job.Bases {
		if _, err := book.Find(b.Source); err != nil {
			return nil, err
		}
	}
	there, err := a.storeThere()
	if err != nil || !there {
		return w, err
	}
	return w, a.needStore(ctx, w)
}

// needStore makes the store when there is none yet.
func (a *app) needStore(ctx context.Context, w *work) error {
	if w.store != nil {
		return nil
	}
	s, err := a.openStore(ctx)
	if err == nil {
		w.store = s
	}
	return err
}

func (w *work) close() error {
	if w.store == nil {
		return nil
	}
	return w.store.Close()
}

// base gives the source of one of the job's bases and its shelf in the store.
func (w *work) base(i int) (source.Source, store.Shelf, error) {
	src, err := w.book.Find(w.job.Bases[i].Source)
	if err != nil || w.store == nil {
		return src, nil, err
	}
	shelf, err := w.store.Shelf(src.StoreName())
	return src, shelf, err
}

// plan draws the plan of one base.
func (w *work) plan(ctx context.Context, i int) (plan.Plan, error) {
	src, shelf, err := w.base(i)
	if err != nil {
		return plan.Plan{}, err
	}
	in, err := w.job.ReadInputs()
	if err != nil {
		return plan.Plan{}, err
	}
	return plan.New(ctx, plan.Options{Inputs: in, Base: i, Source: src, Shelf: shelf})
}

// plans draws the plan of every base.
func (w *work) plans(ctx context.Context) ([]plan.Plan, error) {
	var all []plan.Plan
	for i := range w.job.Bases {
		p, err := w.plan(ctx, i)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// filling is what fetching for a base needs besides its progress.
func (a *app) filling(w *work, i int, p plan.Plan) (office.Options, error) {
	_, shelf, err := w.base(i)
	return office.Options{
		Plan: p, Shelf: shelf, Log: a.log(),
		Waiting: func() { a.note("another run is fetching from %s: waiting for it", p.Source.Name) },
	}, err
}

// packArgs are the packs that check and serve are given.
func packArgs(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return &wrongUse{"no pack is named", "such as: groundsheet " + c.Name() + " site/out/NAME.mbtiles"}
	}
	return nil
}

// folderArg is the one argument of plan and pack.
func folderArg(c *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongUse{"one job folder is wanted", "such as: groundsheet " + c.Name() + " site"}
	}
	return nil
}
