package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"sync"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles/fetch"
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
// in any text. Bars, colors and JSON go to the bare writers.
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

// office is the operator's office by the global flags.
func (a *app) office() office.Office {
	return office.Office{
		StoreAt: cmp.Or(a.storeAt, os.Getenv("GROUNDSHEET_STORE")), SourcesFile: a.sourcesFile,
		Fetch: fetch.Options{Log: a.log()},
	}
}

// closeInto closes at the end of a call; the first error counts.
func closeInto(closer func() error, err *error) {
	if closeErr := closer(); *err == nil {
		*err = closeErr
	}
}

// args refuses a call with fewer or more arguments than it takes; most = 0 sets no
// upper bound.
func args(least, most int, what, example string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < least || most > 0 && len(args) > most {
			return wrongUse(what, "such as: "+c.Root().Name()+" "+example)
		}
		return nil
	}
}
