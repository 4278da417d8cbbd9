package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/check"
	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
)

func (a *app) refreshCommand() *cobra.Command {
	var asJSON, openJobs bool
	var g fetchFlags
	c := &cobra.Command{
		Use: "refresh DIR…|--open-jobs", Short: "Ask the sources for what is stale, and say what really changed",
		Long: `refresh asks, for each job, only for tiles that are no longer fresh, with what the
source needs to answer "unchanged" without sending them again; what the job wants
and the office store lacks is fetched too. A pack whose content did not change is
left as it is. How long a tile stays fresh is for the source to say, and at least
keep_at_least of the terms (7 days where they do not state it); --ask-all asks all
the same. Every pack is checked. With --open-jobs all open jobs of this computer are
refreshed, as the store's register has them: a line for a nightly timer. One job that
fails does not stop the others; the exit code is that of the worst.

With --json it prints one document a base: folder, job, source, file, wanted,
asked, unchanged, changed, new, same, gone, withdrawn, stood_in, absent,
received_bytes, rewritten, by_zoom[zoom, changed, gone], some, verdict, error. some names
at most 20 of the tiles that changed or are gone. For a job that failed only
folder and error are filled.`,
		RunE: func(c *cobra.Command, args []string) (err error) {
			if openJobs == (len(args) > 0) {
				return wrongUse("no job folder is named, or --open-jobs beside one", "groundsheet refresh site")
			}
			if openJobs {
				if args, err = a.office().OpenFolders(c.Context()); err == nil && len(args) == 0 {
					a.say("no open job was packed from the store on this computer")
				}
			}
			if err != nil {
				return err
			}
			return a.runRefresh(c.Context(), args, g, asJSON)
		},
	}
	c.Flags().BoolVar(&g.askAll, "ask-all", false, "ask for what is still fresh too, by the same conditional requests; not for what the source called immutable")
	c.Flags().BoolVar(&openJobs, "open-jobs", false, "refresh all open jobs of this computer that were packed from the store")
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	g.add(c)
	return c
}

// refreshDocument is the shape of refresh --json.
type refreshDocument struct {
	Folder    string `json:"folder"`
	Job       string `json:"job"`
	Source    string `json:"source"`
	File      string `json:"file"`
	Wanted    int64  `json:"wanted"`
	Asked     int64  `json:"asked"`     // requests
	Unchanged int64  `json:"unchanged"` // confirmed without sending
	office.Changes
	Absent    int64   `json:"absent"` // holes in the pack
	Received  int64   `json:"received_bytes"`
	Rewritten bool    `json:"rewritten"`
	Verdict   string  `json:"verdict"`
	Error     *string `json:"error"`
}

func (a *app) runRefresh(ctx context.Context, dirs []string, g fetchFlags, asJSON bool) error {
	code := exitDone
	for _, dir := range dirs {
		err := a.refreshJob(ctx, dir, asJSON, len(dirs) == 1, g)
		if errors.Is(err, context.Canceled) {
			return err
		}
		if failed := exitCode(err); failed > exitNotFit {
			said := fmt.Errorf("%s: %w", dir, err)
			if strings.Contains(err.Error(), dir) {
				said = err
			}
			a.explain(said)
			if asJSON {
				why := err.Error()
				none := office.Changes{ByZoom: []office.ZoomChanges{}, Some: []string{}}
				if err := a.json(refreshDocument{Folder: dir, Changes: none, Error: &why}, false); err != nil {
					return err
				}
			}
		}
		code = max(code, exitCode(err))
	}
	if code == exitDone {
		return nil
	}
	return exitStatus(code)
}

func (a *app) refreshJob(ctx context.Context, dir string, asJSON, only bool, g fetchFlags) error {
	return a.eachPack(ctx, dir, "refresh", g, (*office.Workspace).Refresh, func(p office.Packed, one bool) error {
		d := refreshDocumentOf(dir, p.Report, p.Check)
		if asJSON {
			return a.json(d, only && one)
		}
		a.showRefreshed(d)
		a.showCheck(p.Check)
		return nil
	})
}

func refreshDocumentOf(dir string, r office.Report, c check.Report) refreshDocument {
	return refreshDocument{
		Folder: dir, Job: r.Job, Source: r.Source, File: r.File, Wanted: r.Wanted, Asked: r.Requests,
		Unchanged: r.Unchanged - int64(r.Changes.Withdrawn), Changes: r.Changes, Absent: r.Absent,
		Received: r.Answers, Rewritten: r.Rewritten, Verdict: c.Verdict,
	}
}

func (a *app) showRefreshed(d refreshDocument) {
	if d.Asked == 0 {
		a.say("%s, base map %s: nothing was asked: what is wanted (%s) is still fresh; --ask-all asks all the same",
			d.Job, d.Source, count(d.Wanted, "tile"))
	} else {
		a.say("%s, base map %s: %s for %s wanted, %s received", d.Job, d.Source, count(d.Asked, "request"),
			count(d.Wanted, "tile"), measure.Size(d.Received))
		a.say("  %d unchanged, %d changed, %d new, %d gone at the source", d.Unchanged+int64(d.Same),
			d.Changed, d.New, d.Gone)
	}
	if d.Withdrawn > 0 {
		a.say("  the source says that it no longer has %s; what is held stays", count(d.Withdrawn, "tile"))
	}
	if d.StoodIn > 0 {
		a.say("  not confirmed, because the source failed: %s; what is held stands in", count(d.StoodIn, "tile"))
	}
	for _, z := range d.ByZoom {
		a.say("  zoom %d: %d changed, %d gone", z.Zoom, z.Changed, z.Gone)
	}
	if len(d.Some) > 0 {
		more := ""
		if n := d.Changed + d.Gone - len(d.Some); n > 0 {
			more = fmt.Sprintf(" and %d more", n)
		}
		a.say("  these: %s%s", strings.Join(d.Some, ", "), more)
	}
	if d.Rewritten {
		a.say("  packed anew: %s", d.File)
	} else {
		a.say("  the pack is unchanged, not rewritten")
	}
}
