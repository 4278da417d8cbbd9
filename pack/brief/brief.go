// Package brief writes a pack as paper: a PDF to print and a page for a browser
// with the same content. An overview and detail sheets at a true stated scale
// show the base map and what is recorded; tables list what is known, what is not,
// and how old and how certain it is.
package brief

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// Options of a brief. The zero value is fine.
type Options struct {
	Paper string           // Letter or A4; "" = letter for a job in US units, else A4
	Scale float64          // 1:Scale of the detail sheets; 0 = the largest standard scale with few sheets
	Now   func() time.Time // nil = time.Now
}

// Summary is the content of a brief in numbers.
type Summary struct {
	Fit          bool // what check says of the pack
	Pages        int
	Sheets       int     // detail sheets
	Strips       int     // of Sheets: strips along a route
	Scale        float64 // 1:Scale of the detail sheets, of the strips where there are some
	Words        string  // the same for people
	HiddenLabels int     // labels without a free place on their sheet
}

// Misuse is the kind of a fault in the options.
var Misuse = fault.Input("misuse")

// Limits of a stated scale.
const (
	leastScale = 20
	mostScale  = 1e7
)

func (o Options) filled(units string) (Options, error) {
	if o.Paper == "" {
		o.Paper = A4
		if units == "us" {
			o.Paper = Letter
		}
	}
	if o.Paper != Letter && o.Paper != A4 {
		return o, &fault.Fault{Kind: Misuse, Detail: fmt.Sprintf("paper %q is not known", o.Paper),
			Remedy: "use letter or a4"}
	}
	if o.Scale != 0 && !(o.Scale >= leastScale && o.Scale <= mostScale) {
		return o, &fault.Fault{Kind: Misuse, Detail: fmt.Sprintf("scale 1:%g is no scale for a map of a site", o.Scale),
			Remedy: "use 1:240 or the like"}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o, nil
}

// Write writes the brief of a pack as a PDF and as a page for a browser that
// needs nothing else. The same pack, options and time give the same bytes. The
// error is a fault of the kind [Misuse], of [pack.NotPack] or one of the writers.
func Write(ctx context.Context, p *pack.Pack, pdf, page io.Writer, o Options) (Summary, error) {
	o, err := o.filled(p.Info.About.Units)
	if err != nil {
		return Summary{}, err
	}
	now := o.Now()
	s, err := readPack(ctx, p, now)
	if err != nil {
		return Summary{}, err
	}
	if err := s.verdict(ctx, o.Now); err != nil {
		return Summary{}, err
	}
	title := words.Say("paper.title", "name", sanitize(s.about.Name, cellText))
	doc := newPDF(o.Paper, title, now)
	l, err := layOut(s, mapBox(doc.size()), mapBox(doc.wideSize()), o.Scale)
	if err != nil {
		return Summary{}, err
	}
	m := Summary{Fit: s.fit, Sheets: l.count(), Strips: len(l.plan.strips), Scale: l.scale(),
		Words: scaleWords(l.scale(), s.about.Units)}
	c := pageData{
		Title: title, Name: sanitize(s.about.Name, cellText), Identity: s.identity(cellText), Paper: o.Paper,
		First: s.sectionsBefore(), Last: append(s.stripSection(l), s.sectionsAfter()...),
	}
	f := &pageWriter{pdfCanvas: doc, site: s}
	f.page()
	f.line(edge, c.Name, 18, true)
	f.y += 10
	for _, part := range c.First {
		f.section(part)
	}
	for _, one := range l.sheets(mapBox(doc.wideSize())) {
		if err := f.sheet(ctx, one, &c, &m); err != nil {
			return Summary{}, err
		}
	}
	f.page()
	for _, part := range c.Last {
		f.section(part)
	}
	m.Pages = doc.pdf.PageCount()
	f.numbers()
	if err := doc.write(pdf); err != nil {
		return Summary{}, fmt.Errorf("the PDF: %w", err)
	}
	return m, writePage(page, c)
}

// sheet draws a map page into the PDF and for the browser.
func (f *pageWriter) sheet(ctx context.Context, s sheet, c *pageData, m *Summary) error {
	if err := f.mapPage(ctx, &s, m); err != nil {
		return err
	}
	w, h := f.size()
	d := newSVG(f.pdfCanvas, box{0, 0, w, h - edge})
	s.draw(d, f.site, f.pdfCanvas)
	c.Maps = append(c.Maps, mapImage{
		Title:   s.title() + " · " + scaleWords(s.scale, f.site.about.Units),
		Alt:     words.Say("paper.map_alt", "sheet", s.title(), "name", c.Name),
		Address: template.URL(d.address()), Wide: len(s.strips) > 0,
	})
	return nil
}

// mapPage draws a map page into the PDF.
func (f *pageWriter) mapPage(ctx context.Context, s *sheet, m *Summary) error {
	if err := s.drawBases(ctx, f.site); err != nil {
		return err
	}
	if len(s.strips) > 0 {
		f.widePage()
	} else {
		f.page()
	}
	m.HiddenLabels += s.draw(f.pdfCanvas, f.site, f.pdfCanvas)
	return nil
}
