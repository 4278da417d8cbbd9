package brief

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// Document is paper in the manner of a brief that tells something else than the
// records of a pack, such as what was found on site: on the pack's maps, in sections of
// its own.
type Document struct {
	Title       string
	First, Last []Section        // before and after the maps
	Overlays    []record.Overlay // what the maps show
	Looked      []orb.Geometry   // where a crew looked and found nothing
	Photos      []DocumentPhoto
	Sign        *Section // at the end: its rows are left to be filled in by hand
}

// Lengths that texts of a document are cut to, in characters.
const (
	documentCell = 300
	documentNote = 1500
)

func (s Section) sanitized() Section {
	out := Section{Title: sanitize(s.Title, cellText), Head: s.Head, Wide: s.Wide, Loud: s.Loud}
	for _, n := range s.Notes {
		out.Notes = append(out.Notes, sanitize(n, documentNote))
	}
	for _, row := range s.Rows {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = sanitize(c, documentCell)
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}

// Write writes the document as a PDF, with the maps of the pack. Now is the time that it
// states; the same pack, document and time give the same bytes. The error is as that of
// [Write].
func (d Document) Write(ctx context.Context, p *pack.Pack, to io.Writer, o Options) (m Summary, err error) {
	if o, err = o.filled(p.Info.About.Units); err != nil {
		return m, err
	}
	s, err := readPack(ctx, p, o.Now())
	if err != nil {
		return m, err
	}
	derived := derive.From(d.Overlays, nil, derive.Options{})
	s.overlays, s.looked, s.finds, s.fit = d.Overlays, d.Looked, true, true // whether the pack is fit is not told here
	s.derived = derive.Result{Lines: derived.Lines, Statistics: derived.Statistics}
	s.names = lineNames(s)
	title := sanitize(d.Title, cellText)
	doc := newPDF(o.Paper, title, o.Now())
	l, err := layOut(s, mapBox(doc.size()), mapBox(doc.wideSize()), o.Scale)
	if err != nil {
		return m, err
	}
	m = Summary{Fit: true, Sheets: l.count(), Strips: len(l.plan.strips), Scale: l.scale(), Words: scaleWords(l.scale(), s.about.Units)}
	f := &pageWriter{pdfCanvas: doc, site: s}
	f.page()
	f.line(edge, title, 18, true)
	f.y += 10
	for _, part := range d.First {
		f.section(part.sanitized())
	}
	sheets, left := s.withFinds(l.sheets(mapBox(doc.wideSize())))
	if m.Sheets -= left; left > 0 {
		f.note(words.Say("handover.sheets_left", "n", left, "all", l.count()), true)
	}
	for _, one := range sheets {
		if err := f.mapPage(ctx, &one, &m); err != nil {
			return m, err
		}
	}
	f.page()
	for _, part := range d.Last {
		f.section(part.sanitized())
	}
	if err := f.photos(ctx, d.Photos); err != nil {
		return m, err
	}
	if d.Sign != nil {
		f.sign(d.Sign.sanitized())
	}
	m.Pages = doc.pdf.PageCount()
	f.numbers()
	if err := doc.write(to); err != nil {
		return m, fmt.Errorf("the PDF: %w", errors.Join(err, ctx.Err()))
	}
	return m, nil
}

// withFinds leaves out the map pages on which nothing is, but the overview, and counts the
// sheets and strips that are on them.
func (s packData) withFinds(all []sheet) (some []sheet, left int) {
	for _, one := range all {
		views := []view{one.view}
		if len(one.strips) > 0 {
			views = nil
			for _, strip := range one.strips {
				views = append(views, strip.view)
			}
		}
		if one.number == 0 && len(one.strips) == 0 || slices.ContainsFunc(views, s.showsFind) {
			some = append(some, one)
		} else {
			left += len(views)
		}
	}
	return some, left
}

// showsFind reports whether a view shows anything that was found or looked for.
func (s packData) showsFind(v view) bool {
	near := v.ground(0)
	on := func(g orb.Geometry) bool { return g != nil && clip.Geometry(near, orb.Clone(g)) != nil }
	for _, o := range s.overlays {
		if slices.ContainsFunc(o.Features, func(f geojson.Feature) bool { return on(f.Geometry) }) {
			return true
		}
	}
	return slices.ContainsFunc(s.derived.Lines, func(l derive.Line) bool { return on(l.Path) }) || slices.ContainsFunc(s.looked, on)
}

// sign leaves room to write behind each label, all of it on one page.
func (f *pageWriter) sign(s Section) {
	const high = 12.0
	f.breakPage(30 + 5*float64(len(s.Notes)) + high*float64(len(s.Rows)))
	f.heading(s.Title)
	for _, n := range s.Notes {
		f.note(n, s.Loud)
	}
	for _, row := range s.Rows {
		f.y += high - cellSize*point - 1
		x := edge
		for _, label := range row {
			width := f.width(label, cellSize, false)
			f.line(x, label, cellSize, false)
			end := x + f.wide()/float64(len(row)) - 4
			y := f.y + cellSize*point
			f.Stroke([]orb.Point{{x + width + 2, y}, {end, y}}, pen{color: black, width: 0.5})
			x = end + 4
		}
		f.y += cellSize*point + 1
	}
}

// lookedPen draws where nothing was found.
var lookedPen = pen{color: black, width: 0.7, dash: []float64{1, 2}}

// drawLooked draws where a crew looked and found nothing, with these words.
func (s packData) drawLooked(c canvas, v view, r *labelPlacer) {
	near := v.ground(beyond)
	for _, g := range s.looked {
		if !g.Bound().Intersects(near) {
			continue
		}
		paths := lines(v, g, near)
		for _, p := range pack.Polygons(g) {
			for _, ring := range rings(v, p) {
				paths = append(paths, ring)
			}
		}
		for _, at := range places(g) {
			paths = append(paths, circle(v.toPaper(at), 1.8))
		}
		for _, path := range paths {
			cased(c, path, lookedPen, white, 1)
		}
		if at := v.toPaper(g.Bound().Center()); v.number > 0 && v.shows(at) {
			r.label(c, at, words.Say("mapsheet.nothing_found"), lettering{size: 6.5, back: white})
		}
	}
}
