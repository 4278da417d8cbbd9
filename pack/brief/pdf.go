package brief

import (
	"bytes"
	"encoding/gob"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/paulmach/orb"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
)

// face is the name of the font within the document.
const face = "go"

// pdfCanvas is the PDF. It is a canvas for the page that was added last.
type pdfCanvas struct {
	pdf      *fpdf.Fpdf
	format   fpdf.SizeType
	pictures int
}

func newPDF(size string, title string, now time.Time) *pdfCanvas {
	f := fpdf.New("P", "mm", map[string]string{Letter: "Letter", A4: "A4"}[size], "")
	f.AddUTF8FontFromBytes(face, "", goregular.TTF)
	f.AddUTF8FontFromBytes(face, "B", gobold.TTF)
	f.SetCatalogSort(true) // the same pack gives the same bytes
	f.SetCreationDate(now.UTC())
	f.SetModificationDate(now.UTC())
	f.SetTitle(title, true)
	f.SetCreator("groundsheet", true)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.SetCellMargin(0)
	w, h := f.GetPageSize()
	return &pdfCanvas{pdf: f, format: fpdf.SizeType{Wd: w, Ht: h}}
}

func (p *pdfCanvas) write(w io.Writer) error { return p.pdf.Output(w) }

// glyphs is the font that tells which characters have a picture; the bold one has the same.
var glyphs = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic("brief: " + err.Error()) // it is built in
	}
	return f
})

// printable replaces what the font has no picture of: the library counts it as narrow
// and draws it wide, over what stands beside it.
func printable(s string) string {
	ascii := func(r rune) bool { return r > '~' || r < ' ' }
	if strings.IndexFunc(s, ascii) < 0 {
		return s
	}
	var buffer sfnt.Buffer
	return strings.Map(func(r rune) rune {
		if r > 0xffff {
			return missing
		}
		if i, err := glyphs().GlyphIndex(&buffer, r); err != nil || i == 0 && r >= ' ' {
			return missing
		}
		return r
	}, s)
}

// missing stands for a character without a picture.
const missing = '\ufffd'

func (p *pdfCanvas) font(size float64, bold bool) {
	style := ""
	if bold {
		style = "B"
	}
	p.pdf.SetFont(face, style, size)
}

// width of a text in millimeters.
func (p *pdfCanvas) width(s string, size float64, bold bool) float64 {
	p.font(size, bold)
	return p.pdf.GetStringWidth(printable(s))
}

func rgb(color string) (r, g, b int) {
	n, err := strconv.ParseUint(strings.TrimPrefix(color, "#"), 16, 32)
	if err != nil {
		return 0, 0, 0
	}
	return int(n >> 16 & 255), int(n >> 8 & 255), int(n & 255)
}

func (p *pdfCanvas) Picture(jpeg []byte, at box) {
	p.pictures++
	name, o := "base"+strconv.Itoa(p.pictures), fpdf.ImageOptions{ImageType: "JPG"}
	p.rank(p.pdf.RegisterImageOptionsReader(name, o, bytes.NewReader(jpeg)))
	p.pdf.ImageOptions(name, at.X, at.Y, at.W, at.H, false, o, 0, "")
}

// rank gives a picture a width of its own, larger by a part of a pixel that is never
// written: the library orders pictures by their widths, and equal ones by chance.
func (p *pdfCanvas) rank(info *fpdf.ImageInfoType) {
	if info == nil {
		return // the library keeps the error until the end
	}
	var width, height, scale, dpi float64
	var data, mask, palette []byte
	var n, bits int
	var space, filter, parameters string
	var transparent []int
	fields := []any{&data, &mask, &n, &width, &height, &space, &palette, &bits, &filter, &parameters, &transparent, &scale, &dpi}
	text, err := info.GobEncode()
	from := gob.NewDecoder(bytes.NewReader(text))
	for i := 0; i < len(fields) && err == nil; i++ {
		err = from.Decode(fields[i])
	}
	width += float64(p.pictures) / 1e6
	var out bytes.Buffer
	to := gob.NewEncoder(&out)
	for i := 0; i < len(fields) && err == nil; i++ {
		err = to.Encode(fields[i])
	}
	if err == nil {
		err = info.GobDecode(out.Bytes())
	}
	if err != nil {
		p.pdf.SetError(err)
	}
}

func (p *pdfCanvas) Stroke(path []orb.Point, s pen) {
	if len(path) < 2 {
		return
	}
	p.pdf.SetDrawColor(rgb(s.color))
	p.pdf.SetLineWidth(s.width * point)
	dash := make([]float64, len(s.dash))
	for i, d := range s.dash {
		dash[i] = d * point
	}
	p.pdf.SetDashPattern(dash, 0)
	ends := "butt"
	if s.round {
		ends = "round"
	}
	p.pdf.SetLineCapStyle(ends)
	p.pdf.SetLineJoinStyle("round")
	p.trace(path)
	p.pdf.DrawPath("D")
}

func (p *pdfCanvas) trace(path []orb.Point) {
	p.pdf.MoveTo(path[0][0], path[0][1])
	for _, at := range path[1:] {
		p.pdf.LineTo(at[0], at[1])
	}
}

func (p *pdfCanvas) Fill(rings []orb.Ring, color string, opacity float64) {
	p.pdf.SetFillColor(rgb(color))
	p.pdf.SetAlpha(opacity, "Normal")
	drawn := false
	for _, ring := range rings {
		if len(ring) > 2 {
			p.trace(ring)
			p.pdf.ClosePath()
			drawn = true
		}
	}
	if drawn {
		p.pdf.DrawPath("F*")
	}
	p.pdf.SetAlpha(1, "Normal")
}

func (p *pdfCanvas) Disc(at orb.Point, radius float64, color string) {
	p.pdf.SetFillColor(rgb(color))
	p.pdf.Circle(at[0], at[1], radius, "F")
}

func (p *pdfCanvas) Text(at orb.Point, s string, w lettering) {
	s = printable(s)
	b := p.textBox(at, s, w)
	if w.back != "" {
		p.pdf.SetFillColor(rgb(w.back))
		p.pdf.Rect(b.X, b.Y, b.W, b.H, "F")
	}
	if w.edge != "" {
		p.Stroke(rectangle(b), pen{color: w.edge, width: 0.8})
	}
	p.font(w.size, w.bold)
	p.pdf.SetTextColor(rgb(w.color))
	p.pdf.Text(b.X+padding, at[1], s)
}

// padding is the space between a text and the edge of its box.
const padding = 0.5

// textBox is the box around a text.
func (p *pdfCanvas) textBox(at orb.Point, s string, w lettering) box {
	width, high := p.width(s, w.size, w.bold), w.size*point
	x := at[0]
	switch w.align {
	case 'c':
		x -= width / 2
	case 'r':
		x -= width
	}
	return box{x - padding, at[1] - 0.75*high - padding, width + 2*padding, high*0.78 + 2*padding}
}

func (p *pdfCanvas) Clip(b box) { p.pdf.ClipRect(b.X, b.Y, b.W, b.H, false) }

// Unclip restores the colors of before the clip. The library does not know them and
// would leave out a color that it believes is set.
func (p *pdfCanvas) Unclip() {
	p.pdf.ClipEnd()
	p.pdf.SetFillColor(0, 0, 0)
}

func (p *pdfCanvas) size() (w, h float64) {
	w, h = p.pdf.GetPageSize()
	return math.Round(w*100) / 100, math.Round(h*100) / 100
}

// wideSize is the size of a page on its side, whatever page is open.
func (p *pdfCanvas) wideSize() (w, h float64) {
	w, h = p.size()
	return max(w, h), min(w, h)
}
