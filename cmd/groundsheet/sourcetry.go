package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

func (a *app) sourceTryCommand() *cobra.Command {
	f := tryFlags{zoom: -1}
	c := &cobra.Command{
		Use: "try NAME [DIR]", Short: "Fetch one tile from a source and say what came; lift its wait if it answers well",
		Long: `try asks a source for one tile and says what came: the picture, what its headers
say of keeping it, how fast it was, and anything odd. Nothing is kept but the
picture itself, with --save. When the source asked a run to wait, try says until
when; if a good tile comes, it lifts that wait, so that the next run need not sit
it out. DIR (or --job DIR) is a job folder: its middle is asked for, and it may
have a sources file of its own.`,
		Example: `  groundsheet source try county-ortho --at 40.0123,-105.0456 --zoom 20
  groundsheet source try county-ortho site --save look.jpg`,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return wrongUse("the name of one source is wanted", "groundsheet source list shows them")
			}
			if len(args) == 2 {
				if f.job != "" && f.job != args[1] {
					return wrongUse(fmt.Sprintf("two job folders are named, %s and %s", args[1], f.job), "name one of them")
				}
				f.job = args[1]
			}
			return a.runSourceTry(c.Context(), args[0], f)
		},
	}
	c.Flags().StringVar(&f.at, "at", "", "place of the tile, LAT,LON in degrees WGS 84 (else the middle of the job, or of the source's bounds)")
	c.Flags().IntVar(&f.zoom, "zoom", -1, "zoom of the tile (else 16, or the nearest that the source has)")
	c.Flags().StringVar(&f.job, "job", "", "job folder whose middle is asked for")
	c.Flags().StringVar(&f.save, "save", "", "keep the picture that comes in this .jpg, .png or .webp file")
	return c
}

// tryFlags are those of source try.
type tryFlags struct {
	at, job, save string
	zoom          int // below 0 = not stated
}

func (a *app) runSourceTry(ctx context.Context, name string, f tryFlags) (err error) {
	if err := checkSave(f.save); err != nil {
		return err
	}
	sources, err := a.office().Sources(f.job)
	if err != nil {
		return err
	}
	s, err := sources.Find(name)
	if err != nil {
		return err
	}
	id, err := f.tile(s)
	if err != nil {
		return err
	}
	w, err := a.waitOf(ctx, s)
	if err != nil {
		a.note("whether runs wait for this source is not known: %v", err)
	}
	defer func() { closeInto(w.close, &err) }()
	if !w.until.IsZero() {
		a.say("wait: the source asked a run to wait; runs do not ask it before %s (%s more)", measure.Moment(w.until),
			measure.Duration(time.Until(w.until)))
	}
	err = a.probe(ctx, s, id, f.save)
	switch {
	case w.until.IsZero():
	case err == nil:
		return a.endWait(ctx, w.shelf)
	case errors.Is(err, noTile):
		a.say("wait: left as it is")
	}
	return err
}

// probe asks for one tile and says what came. The error is [noTile] if
// that cannot be used.
func (a *app) probe(ctx context.Context, s source.Source, id tiles.ID, save string) (err error) {
	ready, client, done, err := discover.Open(ctx, s, discover.Options{})
	if err != nil {
		return err
	}
	defer func() { closeInto(done, &err) }()
	if ready.Outside(id) {
		a.say("the service says that it has no tile %v: asked all the same", id)
	}
	p, err := discover.ProbeTile(ctx, ready, id, client, discover.Options{})
	if err != nil {
		return err
	}
	a.sayProbe(ready, p)
	if err := a.savePicture(save, p); err != nil {
		return err
	}
	if p.Status == http.StatusOK && p.Flaw == nil && p.Picture.Width == s.TileSize && p.Picture.Height == s.TileSize {
		return nil
	}
	return &fault.Fault{
		Kind: noTile, Place: fmt.Sprintf("source %q: asking %s", s.Name, p.Address),
		Detail: "no tile came that can be used", Remedy: "see above; try another place or zoom with --at and --zoom",
	}
}

// noTile is the kind of fault of an answer that is not a tile of the source.
var noTile = fault.Outside("no tile")

// sourceWait is how long runs do not ask a source because it asked them to wait.
type sourceWait struct {
	until time.Time   // zero = they do not wait
	shelf store.Shelf // nil if there is no store
	close func() error
}

// waitOf looks into the office store, if there is one.
func (a *app) waitOf(ctx context.Context, s source.Source) (w sourceWait, err error) {
	w.close = func() error { return nil }
	st, err := a.office().FindStore(ctx)
	if err != nil || st == nil {
		return w, err
	}
	w.close = st.Close
	if w.shelf, err = st.Shelf(s.StoreName()); err == nil {
		w.until, err = fetch.Waiting(ctx, w.shelf, time.Now())
	}
	return w, err
}

func (a *app) endWait(ctx context.Context, shelf store.Shelf) error {
	lifted, err := fetch.EndWait(ctx, shelf)
	switch {
	case err != nil:
		return err
	case lifted:
		a.say("wait: lifted, since the source answers well: the next run asks it at once")
	default:
		a.say("wait: left to the run that is asking this source now")
	}
	return nil
}
