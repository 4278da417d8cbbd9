package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/brief"
	"groundsheet/pack/check"
	"groundsheet/tiles/words"
)

type briefFlags struct{ out, paper, scale string }

func (a *app) briefCommand() *cobra.Command {
	var f briefFlags
	c := &cobra.Command{
		Use: "brief PACK|JOB", Short: "Write what the pack knows as a PDF and a page to print",
		Long: `brief writes FILE.pdf and beside it FILE.html, which needs nothing else: an
overview map, numbered detail sheets at a true stated scale (along a route:
strips that follow it), what is known by utility, crossings, what the pack covers
and what is not known. Without -o they stand beside the pack under its name. Print
at 100 %: the bar on each sheet shows whether the scale is true. Page one begins
with the verdict of check: for a pack that is not fit the brief is written, and
brief ends with exit code 1.`,
		Args: args(1, 1, "one pack or job folder is wanted", "brief site"),
		RunE: func(c *cobra.Command, args []string) error { return a.runBriefs(c.Context(), args, f) },
	}
	fl := c.Flags()
	fl.StringVarP(&f.out, "output", "o", "", "the PDF file to write (else beside the pack)")
	fl.StringVar(&f.paper, "paper", "", "letter or a4 (else letter for a job in US units)")
	fl.StringVar(&f.scale, "scale", "", "scale of the detail sheets, such as 1:240 (else one with few sheets, or strips that hold the corridor)")
	return c
}

// runBriefs writes a brief of each pack that is named, or made of the job.
func (a *app) runBriefs(ctx context.Context, args []string, f briefFlags) error {
	packs, err := packFiles(args)
	if err == nil && len(packs) > 1 && f.out != "" {
		err = wrongUse(fmt.Sprintf("the job has %d packs, and -o names one file", len(packs)),
			"name the pack, or leave -o out")
	}
	if err != nil {
		return err
	}
	fit := true
	var errs []error
	for _, path := range packs {
		if err := a.runBrief(ctx, path, f); errors.Is(err, notFit) {
			fit = false
		} else if err != nil {
			errs = append(errs, err)
		}
	}
	if len(errs) == 0 && !fit {
		return notFit
	}
	return errors.Join(errs...)
}

func (a *app) runBrief(ctx context.Context, path string, f briefFlags) (err error) {
	o := brief.Options{Paper: strings.ToLower(f.paper)}
	if o.Scale, err = parseScale(f.scale); err != nil {
		return err
	}
	m, err := brief.Save(ctx, path, f.out, o)
	if err != nil {
		return err
	}
	a.say("%s: %s, %s at %s", m.PDF, count(m.Pages, "page"), sheetsText(m.Summary), m.Words)
	a.say("%s: the same for a browser", m.Page)
	switch {
	case m.HiddenLabels > 0 && m.Strips > 0: // a larger scale may be none that holds the corridor
		a.say("%s", words.Say("brief.left_on_strips", "n", m.HiddenLabels))
	case m.HiddenLabels > 0:
		a.say("%s", words.Say("brief.left", "n", m.HiddenLabels, "scale", fmt.Sprintf("%.0f", m.Scale/2)))
	}
	if !m.Fit {
		a.say("%s: %s; do not take it to the site: groundsheet check tells why", path, check.NotFit)
		return notFit
	}
	return nil
}

// sheetsText counts the map pages' maps.
func sheetsText(m brief.Summary) string {
	switch {
	case m.Strips == 0:
		return count(m.Sheets, "detail sheet")
	case m.Strips == m.Sheets:
		return count(m.Strips, "strip")
	}
	return count(m.Sheets-m.Strips, "detail sheet") + ", " + count(m.Strips, "strip")
}

// parseScale reads "1:240" or "240"; "" is 0.
func parseScale(s string) (float64, error) {
	if s == "" {
		return 0, nil
	}
	n, err := strconv.ParseUint(strings.TrimPrefix(strings.ReplaceAll(s, " ", ""), "1:"), 10, 32)
	if err != nil || n == 0 {
		return 0, wrongUse(fmt.Sprintf("--scale %q is no scale", s), "write it as 1:240")
	}
	return float64(n), nil
}
