package main

import (
	"context"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	newer "groundsheet/pack/update"
	"groundsheet/tiles/measure"
)

func (a *app) updateCommand() *cobra.Command {
	var out string
	var o newer.Options
	var asJSON bool
	c := &cobra.Command{
		Use: "update OLD NEW", Short: "Write what of a newer pack is not in an older one, as a small file for the crew",
		Long: `update compares a pack that the crew has with the newer one of the same job and base
map, and writes a small file from which apply makes the newer one. Keep a copy of each
pack that leaves the office: only an update from the very pack on site helps. A pack that
was packed before the one that the crew has is refused; --back takes it all the same.`,
		Example: `  groundsheet update kept/valve-12.mbtiles site/out/valve-12.mbtiles
  groundsheet apply valve-12.mbtiles valve-12.update`,
		Args: args(2, 2, "an older and a newer pack are wanted", "update kept/valve-12.mbtiles site/out/valve-12.mbtiles"),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				out = strings.TrimSuffix(args[1], filepath.Ext(args[1])) + newer.Extension
			}
			if filepath.Ext(out) != newer.Extension {
				return wrongUse("-o "+out+" is no name of an update", "let it end in "+newer.Extension)
			}
			m, err := newer.Write(c.Context(), args[0], args[1], out, o)
			if err != nil {
				return err
			}
			if asJSON {
				return a.json(m, true)
			}
			what := "newer"
			if m.Back() {
				what = "older"
				a.say("note: back: %s was packed %s, before %s (%s)", args[1], m.New.When(), args[0], m.Old.When())
			}
			a.say("%s: %s, %.1f %% of the %s pack's %s", m.Path, measure.Size(m.Bytes), 100*float64(m.Bytes)/float64(m.New.Bytes), what, measure.Size(m.New.Bytes))
			a.say("from seal %s to %s: %s", m.Old.Seal, m.New.Seal, whatText(m.What))
			return nil
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "the file to write (else beside the newer pack: NAME.update)")
	c.Flags().BoolVar(&o.Back, "back", false, "NEW was packed before OLD: bring the crew back to it")
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) applyCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "apply PACK UPDATE", Short: "Bring a pack on site to the newer one of an update, or leave it as it is",
		Long: `apply makes the newer pack of an update beside the older one, proves it by its
SHA-256 and opens it; only then it takes the older one's place, also while it is
served. With the wrong pack, a damaged one or a damaged update nothing changes, and it
says why. A pack that is the newer one already is left as it is. Check it afterwards,
as any pack.`,
		Args: args(2, 2, "a pack and an update are wanted", "apply valve-12.mbtiles valve-12.update"),
		RunE: func(c *cobra.Command, args []string) error { return a.runApply(c.Context(), args[0], args[1], asJSON) },
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) runApply(ctx context.Context, pack, file string, asJSON bool) error {
	done, err := newer.Apply(ctx, pack, file)
	switch {
	case err != nil:
		return err
	case asJSON:
		return a.json(done, true)
	case done.Already:
		a.say("%s: is the %s already, seal %s; nothing was written", done.File, comingTo(done.Header), done.New.Seal)
		return nil
	}
	a.say("%s: is now the %s, seal %s (it was %s): %s", done.File, comingTo(done.Header), done.New.Seal, done.Old.Seal, whatText(done.What))
	a.say("next: groundsheet check %s", quoted(pack))
	return nil
}

// comingTo names the pack that an update comes to.
func comingTo(h newer.Header) string {
	if h.Back() {
		return "OLDER pack of " + h.New.When() + " again, before that of " + h.Old.When()
	}
	return "newer pack"
}

func whatText(w newer.What) string {
	if text := w.Text(); text != "" {
		return text
	}
	return "no tile and no record changed"
}
