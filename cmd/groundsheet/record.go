package main

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack/job"
	"groundsheet/pack/record/intake"
	"groundsheet/tiles/vector"
)

func (a *app) recordCommand() *cobra.Command {
	c := &cobra.Command{Use: "record", Short: "Add a file of records to a job"}
	var yes bool
	var given []string
	add := &cobra.Command{
		Use: "add FILE [JOB]", Short: "Look at a file of records, ask what it does not say, and add it to the job",
		Long: `add looks at a file of records (GeoJSON, KML, KMZ, GPX, shapefile, GeoPackage, DXF, WKT
or a table) and proposes how it is to be read: utility, columns, units, system, datum,
each with its reason and how sure it is. What neither the file states nor the job shows
is asked; a datum, a quality level or the unit of a depth is never guessed. Rows that
cannot be read are listed with their reasons. At the end the file is copied into
JOB/overlays and named in job.toml; until then nothing is written.`,
		Example: `  groundsheet record add gas.zip site
  groundsheet record add readings.csv site --answer utility=gas --answer "units.depth=in"`,
		Args: args(1, 2, "a file is wanted, and the job's folder unless it is this one", "record add gas.zip site"),
		RunE: func(c *cobra.Command, args []string) error {
			answers, err := answersOf(given)
			if err != nil {
				return err
			}
			dir := "."
			if len(args) > 1 {
				dir = args[1]
			}
			q := &interview{app: a, in: newLines(c.InOrStdin()), answers: answers, silent: yes}
			return a.runRecordAdd(q, args[0], dir)
		},
	}
	add.Flags().BoolVar(&yes, "yes", false, "ask nothing: take what the file states, and end with 2 where it does not")
	add.Flags().StringArrayVar(&given, "answer", nil, `answer to a question that would be asked, such as "utility=gas"; may be given again`)
	c.AddCommand(add)
	return c
}

func answersOf(given []string) (intake.Answers, error) {
	answers := intake.Answers{}
	for _, g := range given {
		key, value, ok := strings.Cut(g, "=")
		if !ok || strings.TrimSpace(key) == "" {
			return nil, wrongUse(fmt.Sprintf("--answer %q has no =", g), `write it as --answer "utility=gas"`)
		}
		answers[strings.TrimSpace(key)] = strings.TrimSpace(value)
	}
	return answers, answers.Check()
}

func (a *app) runRecordAdd(q *interview, name, dir string) error {
	j, err := job.Read(dir)
	if err != nil {
		return err
	}
	site, err := j.Site(time.Now())
	if err != nil {
		return err
	}
	f, err := vector.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return wrongUse(name+": there is no such file", "check the name")
	}
	if err != nil {
		return err
	}
	p := intake.Propose(f, site, q.answers)
	a.showProposal(p)
	if p, err = q.hold(f, site, p); err != nil {
		return err
	}
	m, ok := p.Meta()
	if !ok {
		a.showUnread(p)
		return wrongUse(name+": "+p.Problem, "nothing was written")
	}
	a.showOutcome(p)
	if err := q.confirm(dir); err != nil {
		return err
	}
	file, err := job.AddOverlay(dir, "groundsheet record add", f, m, p.Remarks())
	if err != nil {
		return err
	}
	a.say("added %s to %s", file, dir)
	a.say("next: groundsheet plan %s", quoted(dir))
	return nil
}

// mostShown is how many columns of a row are shown on a terminal.
const mostShown = 8

// showProposal tells what was found in the file, and how sure that is.
func (a *app) showProposal(p intake.Proposal) {
	if p.Format == "" {
		return
	}
	a.say("%s: %s, %d rows; %s", p.File, p.Format, p.Rows, p.Distance.Text)
	for _, i := range p.Items {
		if i.Fixed || i.Sure == intake.Stated {
			a.say("  %s: %s (%s: %s)", i.Name, i.Value, i.Sure, i.Why)
		}
	}
	a.say("columns:")
	for _, c := range p.Columns {
		meaning := "kept as it stands"
		if c.Meaning != "" {
			meaning = fmt.Sprintf("%s (%s: %s)", c.Meaning, c.Sure, c.Why)
		}
		a.say("  %q: %s; such as %s", c.Name, meaning, strings.Join(c.Samples, ", "))
	}
	a.say("the first rows:")
	for _, r := range p.First {
		a.say("  %d: %s", r.Line, strings.Join(r.Cells[:min(len(r.Cells), mostShown)], " | "))
	}
	for _, n := range p.Notes {
		a.say("note: %s", n)
	}
}

func (a *app) showUnread(p intake.Proposal) {
	for _, f := range p.Unread {
		a.say("cannot be read: %s", f.Text())
	}
}

// showOutcome tells what the record will be.
func (a *app) showOutcome(p intake.Proposal) {
	a.say("this will be added:")
	for _, i := range p.Items {
		if !i.Fixed && i.Value != "" {
			a.say("  %s: %s (%s)", i.Name, i.Value, i.Why)
		}
	}
	for _, f := range p.Findings {
		if f.Kind != "columns" {
			a.say("  %s: %s", f.Severity, f.Text())
		}
	}
	a.say("  %s", p.Distance.Text)
}
