package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/google/renameio/v2"
	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/brief"
	"groundsheet/pack/check"
	"groundsheet/pack/office"
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
	pdfPath, pagePath, err := f.places(path)
	if err != nil {
		return err
	}
	p, err := pack.Open(ctx, path)
	if err != nil {
		return err
	}
	defer func() { closeInto(p.Close, &err) }()
	var pdf, page bytes.Buffer
	m, err := brief.Write(ctx, p, &pdf, &page, o)
	if err != nil {
		return err
	}
	if err := errors.Join(renameio.WriteFile(pagePath, page.Bytes(), 0o644),
		renameio.WriteFile(pdfPath, pdf.Bytes(), 0o644)); err != nil {
		return err
	}
	a.say("%s: %s, %s at %s", pdfPath, count(m.Pages, "page"), sheetsText(m), m.Words)
	a.say("%s: the same for a browser", pagePath)
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

// places says where the two files go. A file that is there is written over only
// if it is of the same kind: never a pack.
func (f briefFlags) places(path string) (pdf, page string, err error) {
	pdf = f.out
	if pdf == "" {
		pdf = strings.TrimSuffix(path, filepath.Ext(path)) + ".pdf"
	}
	if !strings.EqualFold(filepath.Ext(pdf), ".pdf") {
		return "", "", wrongUse(fmt.Sprintf("-o %s is no PDF file", pdf), "give it a name that ends in .pdf")
	}
	page = pdf[:len(pdf)-len(".pdf")] + ".html"
	if info, err := os.Stat(filepath.Dir(pdf)); err != nil || !info.IsDir() {
		return "", "", wrongUse(fmt.Sprintf("there is no folder %s", filepath.Dir(pdf)), "make it, or name another with -o")
	}
	for _, one := range []struct{ path, begins string }{{pdf, "%PDF-"}, {page, "<!doctype html>"}} {
		if office.SameFile(one.path, path) {
			return "", "", wrongUse(one.path+" is the pack itself", "give the brief another name with -o")
		}
		there, err := beginning(one.path, len(one.begins))
		if err != nil {
			return "", "", err
		}
		if there != "" && !strings.EqualFold(there, one.begins) {
			return "", "", wrongUse(one.path+" is there already and is no brief", "give the brief another name with -o")
		}
	}
	return pdf, page, nil
}

// beginning gives the first bytes of a file; "" when there is none or it is
// empty.
func beginning(path string, most int) (string, error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || !info.Mode().IsRegular() {
		return "", errors.Join(err, wrongUse(path+" is no file", "give the brief another name with -o"))
	}
	b := make([]byte, most)
	n, _ := file.Read(b) // an empty file may be written over
	return string(b[:n]), nil
}
