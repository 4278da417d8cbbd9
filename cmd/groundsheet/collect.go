package main

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/measure"
)

func (a *app) collectCommand() *cobra.Command {
	var o collect.Options
	var limit string
	var asJSON bool
	c := &cobra.Command{
		Use: "collect JOB BOOK…", Short: "Bring home what a crew added on site: field books into the job",
		Long: `collect takes field books (NAME.fieldbook, beside the pack on the laptop that served
it), of one or several laptops, into the job; of a folder, all books in it. Each book is copied while nobody writes
into it, proved entry by entry, and kept in JOB/fieldbooks; photos stay in it. What all
books of the job hold becomes overlays (JOB/overlays/found-UTILITY.geojson) that the
next pack carries. What was struck stays out, what was looked for and not found is in no
overlay; both stay in the books.

It tells what is new, changed and struck, and what is doubtful: an error that is worse
than --limit-error or not stated, what lies outside the job, a depth that can hardly be,
and where what was found is not where, or not as deep as, the record has it. A doubt
keeps nothing out.

All of it is done or nothing. Done twice it changes nothing more. A book that is broken,
or not the one that the job keeps under the same identity, is refused.`,
		Example: `  groundsheet collect site /media/STICK/valve-12.fieldbook
  groundsheet collect site laptop-1/valve-12.fieldbook laptop-2/valve-12.fieldbook --dry-run`,
		Args: args(2, 0, "a job folder and field books are wanted", "collect site /media/STICK/valve-12.fieldbook"),
		RunE: func(c *cobra.Command, args []string) error {
			if limit != "" {
				d, err := measure.ParseDistance(measure.TrimPlusMinus(limit))
				if err != nil || d <= 0 {
					return wrongUse(fmt.Sprintf("--limit-error %q is no distance", limit), "write it as 1ft or 0.3m")
				}
				o.Limit = d
			}
			return a.runCollect(c.Context(), args[0], args[1:], o, asJSON)
		},
	}
	fl := c.Flags()
	fl.StringVar(&limit, "limit-error", "", "a stated error beyond it is told as doubtful (else 1ft)")
	fl.BoolVar(&o.DryRun, "dry-run", false, "say what would be done, and write nothing")
	fl.BoolVar(&o.AnyJob, "any-job", false, "take books that say that they are of another job, such as after the job was renamed")
	fl.BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) runCollect(ctx context.Context, dir string, books []string, o collect.Options, asJSON bool) error {
	r, err := collect.Run(ctx, dir, books, o)
	if err != nil {
		return err
	}
	if asJSON {
		return a.json(r, true)
	}
	for _, b := range r.Books {
		a.showBook(b)
	}
	a.showChanges(r)
	seen := map[string]int{}
	for _, d := range r.Doubts {
		if seen[d.Kind]++; seen[d.Kind] <= shown {
			a.say("doubt   %s", d.Detail)
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(seen)) {
		if n := seen[kind]; n > shown {
			a.say("        … and %d more of kind %q (all in --json)", n-shown, kind)
		}
	}
	for _, l := range r.Overlays {
		if l.State != collect.Same {
			a.say("%s: %s, %s", l.File, l.State, count(l.Features, "mark"))
		}
	}
	switch {
	case r.DryRun:
		a.say("nothing was written")
	case r.Written:
		a.say("next: groundsheet pack %s", quoted(dir))
	default:
		a.say("nothing new: all of it was brought home before")
	}
	return nil
}

// bookStates are the states of a book in words.
var bookStates = map[string]string{collect.New: "new", collect.Longer: "longer than the copy that the job had",
	collect.Same: "the same as the copy that the job has", collect.Shorter: "an earlier copy of what the job has"}

func (a *app) showBook(b collect.BookLine) {
	a.say("%s: proved, entries %d, photos %d; %s, kept as %s", b.File, b.Entries, b.Photos, bookStates[b.State], b.Kept)
	if n := b.Pending + b.Missing; n > 0 {
		a.say("  %s named by marks or begun, and not all in this book: perhaps still on a phone", count(n, "photo"))
	}
	for _, n := range b.Notes {
		a.say("  note: %s", n)
	}
}

// showChanges tells what is not as the job had it, and what the job has now.
func (a *app) showChanges(r collect.Report) {
	what, kinds := map[string]int{}, map[string]int{}
	for _, c := range r.Changes {
		what[c.What]++
		if c.What == collect.New {
			kinds[c.Kind]++
		}
		if c.What == collect.Struck {
			if seen := what[c.What]; seen <= shown {
				a.say("struck  %s by %s: %s", c.Name, c.Who, c.Why)
			}
		}
	}
	var parts []string
	for _, w := range []string{collect.New, collect.Changed, collect.Restored, collect.Struck} {
		if what[w] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", what[w], w))
		}
	}
	if len(parts) > 0 {
		a.say("%s; new are: %s", strings.Join(parts, ", "), kindsText(kinds))
	}
	a.say("the job has %s of its crew: %s; %d struck", count(r.Marks, "mark"), kindsText(r.Kinds), r.Struck)
}

func kindsText(kinds map[string]int) string {
	var all []string
	for _, kind := range slices.Sorted(maps.Keys(kinds)) {
		switch n := kinds[kind]; kind {
		case "":
			all = append(all, fmt.Sprintf("%d whose beginning is in no book", n))
		case fieldbook.NothingFound, fieldbook.Unlocatable:
			all = append(all, fmt.Sprintf("%d %s", n, kind))
		default:
			all = append(all, count(n, kind))
		}
	}
	if len(all) == 0 {
		return "none"
	}
	return strings.Join(all, ", ")
}
