package main

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/fetch/httpget"
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
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return wrongUse("the name of one source is wanted", "groundsheet source list shows them")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
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

// tryFlags are what source try is told.
type tryFlags struct {
	at, job, save string
	zoom          int // below 0 = not said
}

func (a *app) runSourceTry(ctx context.Context, name string, f tryFlags) (err error) {
	if err := checkSave(f.save); err != nil {
		return err
	}
	book, err := a.office().Sources(f.job)
	if err != nil {
		return err
	}
	s, err := book.Find(name)
	if err != nil {
		return err
	}
	id, err := f.tile(s)
	if err != nil {
		return err
	}
	held, until, err := a.waitOf(ctx, s)
	if err != nil {
		a.note("whether runs wait for this source is not known: %v", err)
	}
	if held != nil {
		defer func() { closeInto(held.Close, &err) }()
	}
	if !until.IsZero() {
		a.say("wait: the source asked a run to wait; runs do not ask it before %s (%s more)", measure.Moment(until), measure.Duration(time.Until(until)))
	}
	o := discover.Options{}
	if s.Terms != nil {
		o.Agent = httpget.UserAgent(s.Terms.Contact)
	}
	ready, client, done, err := discover.Open(ctx, s, o)
	if err != nil {
		return err
	}
	defer func() { closeInto(done, &err) }()
	if ready.Outside(id) {
		a.say("the service says that it has no tile %v: asked all the same", id)
	}
	l, err := discover.LookAt(ctx, ready, id, client, o)
	if err != nil {
		return err
	}
	a.tell(ready, l)
	if err := a.savePicture(f.save, l); err != nil {
		return err
	}
	if l.Status != http.StatusOK || l.Flaw != nil || l.Picture.Width != s.TileSize || l.Picture.Height != s.TileSize {
		if !until.IsZero() {
			a.say("wait: left as it is")
		}
		return &discover.Failed{Source: name, Where: l.Address, Why: "no tile came that can be used", Remedy: "see above; try another place or zoom with --at and --zoom"}
	}
	if until.IsZero() {
		return nil
	}
	return a.endWait(ctx, held, s)
}

// waitOf is until when runs do not ask a source because it asked them to wait,
// zero when they need not; and the office store, nil when there is none.
func (a *app) waitOf(ctx context.Context, s source.Source) (st store.Store, until time.Time, err error) {
	if st, err = a.office().FindStore(ctx); err != nil || st == nil {
		return nil, until, err
	}
	shelf, err := st.Shelf(s.StoreName())
	if err == nil {
		until, err = fetch.Waiting(ctx, shelf, time.Now())
	}
	if err != nil {
		closeInto(st.Close, &err)
		return nil, until, err
	}
	return st, until, nil
}

func (a *app) endWait(ctx context.Context, st store.Store, s source.Source) error {
	shelf, err := st.Shelf(s.StoreName())
	if err != nil {
		return err
	}
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

// minute is a time of day on this computer's clock.

// tell says what came.
func (a *app) tell(s source.Source, l discover.Look) {
	lon, lat := l.Tile.Center()
	a.say("tile %v near %.5f, %.5f (latitude, longitude)", l.Tile, lat, lon)
	if s.Local() {
		a.say("from: %s", s.File)
	} else {
		a.say("address: %s", l.Address)
	}
	for _, r := range l.Redirects {
		a.say("redirected to: %s", r)
	}
	took := l.Received.Sub(l.Requested)
	a.say("answer: %d %s, %s, %d ms", l.Status, http.StatusText(l.Status), l.Proto, max(took.Milliseconds(), 1))
	if l.Flaw == nil {
		a.say("picture: %s by content, %d×%d pixels, %s", l.Picture.Kind, l.Picture.Width, l.Picture.Height, measure.Size(len(l.Data)))
	} else {
		a.say("no picture: %v; %s", l.Flaw, measure.Size(len(l.Data)))
	}
	for _, line := range keeping(l) {
		a.say("keeping: %s", line)
	}
	if line := clockOf(l); line != "" {
		a.say("clock: %s", line)
	}
	for _, line := range oddities(s, l) {
		a.say("odd: %s", line)
	}
	if err := s.Refusal(); err != nil {
		a.say("terms: %v", err)
	} else {
		a.say("terms: %s", terms(s))
	}
}
