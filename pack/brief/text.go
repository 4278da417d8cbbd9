package brief

import (
	"github.com/paulmach/orb"

	"groundsheet/tiles/words"
)

// pageWriter writes sections down the page and continues on the next.
type pageWriter struct {
	*pdfCanvas
	site packData
	y    float64
}

const (
	textSize = 9.0
	cellSize = 7.5
	leading  = 1.28 // of a line, in text sizes
)

func (f *pageWriter) bottom() float64 { _, h := f.size(); return h - edge - 6 }
func (f *pageWriter) wide() float64   { w, _ := f.size(); return w - 2*edge }

// breakPage begins a new page where the height left is too small.
func (f *pageWriter) breakPage(room float64) bool {
	if f.y+room <= f.bottom() {
		return false
	}
	f.page()
	return true
}

func (f *pageWriter) page() {
	f.pdf.AddPage()
	f.y = edge + 4
}

// widePage is a page on its side.
func (f *pageWriter) widePage() {
	f.pdf.AddPageFormat("L", f.format)
	f.y = edge + 4
}

func (f *pageWriter) line(x float64, s string, size float64, bold bool) {
	f.Text(orb.Point{x - padding, f.y + size*point}, s, lettering{size: size, bold: bold})
}

func (f *pageWriter) heading(s string) {
	f.breakPage(18)
	f.y += 3
	f.line(edge, s, 12, true)
	f.y += 12*point + 2.5
	f.Stroke([]orb.Point{{edge, f.y - 1}, {edge + f.wide(), f.y - 1}}, pen{color: black, width: 0.8})
	f.y++
}

func (f *pageWriter) note(s string, loud bool) {
	for i, line := range wrap(f.pdfCanvas, s, textSize, loud, f.wide()-4, 20) {
		f.breakPage(textSize * leading * point)
		if i == 0 {
			f.line(edge, "•", textSize, true)
		}
		f.line(edge+4, line, textSize, loud)
		f.y += textSize * leading * point
	}
	f.y += 0.8
}

func (f *pageWriter) section(s Section) {
	if s.Head == nil { // short: all of it on one page
		f.breakPage(18 + 5.8*float64(min(len(s.Rows), 30)))
	}
	f.heading(s.Title)
	for _, n := range s.Notes {
		f.note(n, s.Loud)
	}
	if len(s.Rows) == 0 {
		return
	}
	if s.Head != nil {
		f.row(s.Head, s.Wide, s.Head)
	}
	for _, row := range s.Rows {
		f.row(row, s.Wide, s.Head)
	}
}

// cellLines is how many lines a cell has at most: a paragraph in the narrowest
// column of words.
const cellLines = 24

// row writes a row with a line under it. On a new page the head comes first
// again; a row that is the head is bold on gray.
func (f *pageWriter) row(cells []string, wide []float64, head []string) {
	isHead := len(head) > 0 && &cells[0] == &head[0]
	bold := func(i int) bool { return isHead || i == 0 && head == nil }
	cut := make([][]string, len(cells))
	lines := 1
	for i, c := range cells {
		cut[i] = wrap(f.pdfCanvas, c, cellSize, bold(i), wide[i]*f.wide()-2, cellLines)
		lines = max(lines, len(cut[i]))
	}
	high := float64(lines)*cellSize*leading*point + 1.6
	if f.breakPage(high) && head != nil && !isHead {
		f.row(head, wide, head)
	}
	if isHead {
		f.Fill([]orb.Ring{rectangle(box{edge, f.y, f.wide(), high})}, "#E4E4E4", 1)
	}
	x, top := edge, f.y
	for i, c := range cut {
		f.y = top + 0.6
		for _, line := range c {
			f.line(x+1, line, cellSize, bold(i))
			f.y += cellSize * leading * point
		}
		x += wide[i] * f.wide()
	}
	f.y = top + high
	f.Stroke([]orb.Point{{edge, f.y}, {edge + f.wide(), f.y}}, pen{color: "#888888", width: 0.4})
}

// numbers writes the number of each page once all are there: a crew must see from a
// print that a page is missing.
func (f *pageWriter) numbers() {
	all := f.pdf.PageCount()
	_, last := f.size() // heights are counted from the foot of the page that came last
	for i := 1; i <= all; i++ {
		f.pdf.SetPage(i)
		w, _, _ := f.pdf.PageSize(i)
		y := last - 5
		f.Text(orb.Point{w - edge, y}, words.Say("paper.page", "n", i, "all", all), lettering{size: 7, align: 'r'})
		f.Text(orb.Point{edge, y}, sanitize(f.site.about.Name, 40)+" · "+f.site.identity(50), lettering{size: 7})
	}
}
