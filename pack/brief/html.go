package brief

import (
	_ "embed" // the page's template
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"html/template"
	"io"
	"strings"

	"github.com/paulmach/orb"
)

// svgCanvas is a canvas for the browser: an SVG shown as an image, so that nothing
// in it can run.
type svgCanvas struct {
	b     strings.Builder
	fonts *pdfCanvas // for the size of texts
	clips int
}

func newSVG(p *pdfCanvas, whole box) *svgCanvas {
	d := &svgCanvas{fonts: p}
	fmt.Fprintf(&d.b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.2fmm" height="%.2fmm" viewBox="%.2f %.2f %.2f %.2f" font-family="Go, Arial, Helvetica, sans-serif">`,
		whole.W, whole.H, whole.X, whole.Y, whole.W, whole.H)
	fmt.Fprintf(&d.b, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="#fff"/>`, whole.X, whole.Y,
		whole.W, whole.H)
	return d
}

// address is the finished drawing as a data address.
func (d *svgCanvas) address() string {
	d.b.WriteString("</svg>")
	return "data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString([]byte(d.b.String()))
}

func (d *svgCanvas) Picture(jpeg []byte, at box) {
	fmt.Fprintf(&d.b, `<image x="%.3f" y="%.3f" width="%.3f" height="%.3f" preserveAspectRatio="none" href="data:image/jpeg;base64,%s"/>`,
		at.X, at.Y, at.W, at.H, base64.StdEncoding.EncodeToString(jpeg))
}

func (d *svgCanvas) Stroke(path []orb.Point, p pen) {
	if len(path) < 2 {
		return
	}
	fmt.Fprintf(&d.b, `<path d="%s" fill="none" stroke="%s" stroke-width="%.3f" stroke-linejoin="round"`,
		trace(path), p.color, p.width*point)
	if len(p.dash) > 0 {
		dash := make([]string, len(p.dash))
		for i, v := range p.dash {
			dash[i] = fmt.Sprintf("%.3f", v*point)
		}
		fmt.Fprintf(&d.b, ` stroke-dasharray="%s"`, strings.Join(dash, " "))
	}
	if p.round {
		d.b.WriteString(` stroke-linecap="round"`)
	}
	d.b.WriteString("/>")
}

func trace(path []orb.Point) string {
	var b strings.Builder
	for i, at := range path {
		letter := 'L'
		if i == 0 {
			letter = 'M'
		}
		fmt.Fprintf(&b, "%c%.3f %.3f", letter, at[0], at[1])
	}
	return b.String()
}

func (d *svgCanvas) Fill(rings []orb.Ring, color string, opacity float64) {
	fmt.Fprintf(&d.b, `<path fill-rule="evenodd" fill="%s" fill-opacity="%.2f" d="`, color, opacity)
	for _, ring := range rings {
		d.b.WriteString(trace(ring) + "Z")
	}
	d.b.WriteString(`"/>`)
}

func (d *svgCanvas) Disc(at orb.Point, radius float64, color string) {
	fmt.Fprintf(&d.b, `<circle cx="%.3f" cy="%.3f" r="%.3f" fill="%s"/>`, at[0], at[1], radius, color)
}

func (d *svgCanvas) Text(at orb.Point, s string, w lettering) {
	b := d.fonts.textBox(at, s, w)
	if w.back != "" {
		fmt.Fprintf(&d.b, `<rect x="%.3f" y="%.3f" width="%.3f" height="%.3f" fill="%s"/>`, b.X, b.Y, b.W, b.H, w.back)
	}
	if w.edge != "" {
		d.Stroke(rectangle(b), pen{color: w.edge, width: 0.8})
	}
	weight, color := 400, w.color
	if w.bold {
		weight = 700
	}
	if color == "" {
		color = black
	}
	fmt.Fprintf(&d.b, `<text x="%.3f" y="%.3f" font-size="%.3f" font-weight="%d" fill="%s" textLength="%.3f" lengthAdjust="spacingAndGlyphs">`,
		b.X+padding, at[1], w.size*point, weight, color, b.W-2*padding)
	_ = xml.EscapeText(&d.b, []byte(s)) // a strings.Builder takes everything
	d.b.WriteString("</text>")
}

func (d *svgCanvas) Clip(b box) {
	d.clips++
	fmt.Fprintf(&d.b, `<clipPath id="c%d"><rect x="%.3f" y="%.3f" width="%.3f" height="%.3f"/></clipPath><g clip-path="url(#c%d)">`, d.clips, b.X, b.Y, b.W, b.H, d.clips)
}

func (d *svgCanvas) Unclip() { d.b.WriteString("</g>") }

//go:embed page.html
var pageText string

// mapImage is a map page in the browser.
type mapImage struct {
	Title, Alt string
	Address    template.URL // made here, of our own drawing alone
	Wide       bool         // for paper on its side
}

// pageData is what the page shows.
type pageData struct {
	Title, Name, Identity string
	Paper                 string // the sheets are true on this one
	First, Last           []Section
	Maps                  []mapImage
}

func writePage(w io.Writer, c pageData) error {
	t, err := template.New("brief").Parse(pageText)
	if err != nil {
		return err
	}
	return t.Execute(w, c)
}
