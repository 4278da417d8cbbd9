//go:build outside

package brief

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
)

// The tests in this file need pdftoppm and pdftotext (poppler).

// dpi of the rendered pages.
const dpi = 200

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	c := exec.Command(name, args...)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil {
		t.Fatalf("%s: %v\n%s", name, err, errs.String())
	}
	return out.String()
}

func saved(t *testing.T, pdf []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "b.pdf")
	if err := os.WriteFile(path, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// render gives a page of a PDF as pdftoppm sees it.
func render(t *testing.T, path string, page int, more ...string) image.Image {
	t.Helper()
	out := filepath.Join(t.TempDir(), "page")
	n := strconv.Itoa(page)
	tool(t, "pdftoppm", append(more, "-r", strconv.Itoa(dpi), "-png", "-singlefile", "-f", n, "-l", n, path, out)...)
	data, err := os.ReadFile(out + ".png")
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// blobs are the middles of what has a color within a box of the page, those of
// 30 pixels and more.
func blobs(img image.Image, b box, colour string) []orb.Point {
	r, g, bl := rgb(colour)
	want := color.RGBA{uint8(r), uint8(g), uint8(bl), 255}
	k := dpi / 25.4
	var sums [][3]float64
	for y := int(b.Y * k); y < int((b.Y+b.H)*k); y++ {
		for x := int(b.X * k); x < int((b.X+b.W)*k); x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			if abs(int(r>>8)-int(want.R))+abs(int(g>>8)-int(want.G))+abs(int(bl>>8)-int(want.B)) > 24 {
				continue
			}
			i := slices.IndexFunc(sums, func(s [3]float64) bool {
				return math.Hypot(s[0]/s[2]-float64(x), s[1]/s[2]-float64(y)) < 25
			})
			if i < 0 {
				i, sums = len(sums), append(sums, [3]float64{})
			}
			sums[i][0], sums[i][1], sums[i][2] = sums[i][0]+float64(x)+0.5, sums[i][1]+float64(y)+0.5, sums[i][2]+1
		}
	}
	var all []orb.Point
	for _, s := range sums {
		if s[2] >= 30 {
			all = append(all, orb.Point{s[0] / s[2], s[1] / s[2]})
		}
	}
	return all
}

func abs(v int) int { return max(v, -v) }

// TestOutsideScale finds three readings on the printed sheet: they lie as far
// apart as the stated scale says, within half a per cent, east to west and
// north to south; and the crosses of the grid stand where they say.
func TestOutsideScale(t *testing.T) {
	places := []orb.Point{from(-15, 20), from(-15, -20), from(20, -20)} // from the top, then from the left
	var features []string
	for _, p := range places {
		features = append(features, reading("", p))
	}
	p := newPack(t, about(), records(t, "w", "water", strings.Join(features, ",")))
	for _, o := range []Options{{Paper: Letter, Scale: 360}, {Paper: A4, Scale: 400}} {
		m, pdf, _ := write(t, p, o)
		if m.Sheets != 1 {
			t.Fatalf("%+v", m)
		}
		img := render(t, saved(t, pdf), 3)
		if got := float64(img.Bounds().Dx()) / dpi * 25.4; math.Abs(got-map[string]float64{Letter: 215.9, A4: 210}[o.Paper]) > 0.2 {
			t.Errorf("%s is %.1f mm wide", o.Paper, got)
		}
		on := mapBox(newPaperFor(o.Paper).size())
		found := blobs(img, on, record.SymbologyOf("water", "").Color)
		if len(found) != 3 {
			t.Fatalf("%s: %d readings are seen on the sheet: %v", o.Paper, len(found), found)
		}
		slices.SortFunc(found, func(a, b orb.Point) int {
			return int((a[0]/1e2 - b[0]/1e2) + (a[1] - b[1]))
		})
		for _, pair := range [][2]int{{0, 1}, {1, 2}, {0, 2}} {
			a, b := found[pair[0]], found[pair[1]]
			paper := math.Hypot(a[0]-b[0], a[1]-b[1]) / dpi * 0.0254
			ground := geodesic.Distance(places[pair[0]], places[pair[1]])
			if off := paper*o.Scale/ground - 1; math.Abs(off) > 0.005 {
				t.Errorf("%s: %.2f m on the ground are %.2f m by the scale on paper: %+.2f %%", o.Paper, ground, paper*o.Scale, off*100)
			} else {
				t.Logf("%s: scale off by %+.3f %%", o.Paper, off*100)
			}
		}
		crosses(t, img, found[0], places[0], o.Scale, on)
	}
}

func newPaperFor(size string) *pdfCanvas {
	p := newPDF(size, "", now)
	p.pdf.AddPage()
	return p
}

// crosses looks for black at each round place, counted from a known one.
func crosses(t *testing.T, img image.Image, pixel, place orb.Point, scale float64, on box) {
	t.Helper()
	v := newView(1, middle, scale, on)
	step, _ := v.gridStep()
	frame := geodesic.At(place)
	k := dpi / 0.0254 / scale
	seen := 0
	for i := math.Ceil(v.ground(-16).Left() / step); i*step < v.ground(-16).Right(); i++ {
		for j := math.Ceil(v.ground(-16).Bottom() / step); j*step < v.ground(-16).Top(); j++ {
			m := frame.Meters(orb.Point{i * step, j * step})
			x, y := int(pixel[0]+m[0]*k), int(pixel[1]-m[1]*k)
			arm := int(math.Round(crossArm * dpi / 25.4 * 0.7))
			if !dark(img, x-arm, y) || !dark(img, x+arm, y) || !dark(img, x, y-arm) || !dark(img, x, y+arm) || dark(img, x+arm, y+arm) {
				t.Errorf("no cross at %.5f, %.5f", j*step, i*step)
			}
			seen++
		}
	}
	if seen < 4 {
		t.Errorf("%d crosses", seen)
	}
}

// dark reports whether black is at a pixel or beside it.
func dark(img image.Image, x, y int) bool {
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if g := color.GrayModel.Convert(img.At(x+dx, y+dy)).(color.Gray); g.Y < 60 {
				return true
			}
		}
	}
	return false
}

func TestOutsideWords(t *testing.T) {
	a := about()
	a.Ticket.ValidUntil = "2026-11-24"
	m, pdf, _ := write(t, newPack(t, a, usual(t)...), Options{})
	text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", saved(t, pdf), "-")), " ")
	for _, want := range []string{
		"ticket T-1", "2026-11-24. This ticket has EXPIRED. Do not dig on it", "One-call number", "000-0000", "does not replace the one-call marks",
		"This ticket has EXPIRED", "ticket T-1 has EXPIRED, last valid day 2026-11-24", "Overview", "Sheet 1 of " + strconv.Itoa(m.Sheets), m.Words, "Print at 100%", "Crossings and conflicts", "X1", "vertical relation unknown",
		"electric (electric power, lighting) was notified", "What is NOT known", "3′ 5″", "Base map: Example County", "page " + strconv.Itoa(m.Pages) + " of " + strconv.Itoa(m.Pages),
		"Ground resolution", "17 to 20",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the PDF does not say %q", want)
		}
	}
}

// TestOutsideGray: on a gray print, over ground of middle gray, each utility's
// line shows both its color and its casing.
func TestOutsideGray(t *testing.T) {
	var all []record.Overlay
	for i, u := range record.Utilities() {
		x := -21 + 6*float64(i)
		o := records(t, u.Code, u.Code, line(`"quality_level":"A"`, from(x, -25), from(x, 25)))
		all = append(all, o)
	}
	a := about()
	a.Tolerance = nil
	_, pdf, _ := write(t, newPack(t, a, all...), Options{Scale: 360})
	img := render(t, saved(t, pdf), 3, "-gray")
	on := mapBox(newPaperFor(Letter).size())
	k := dpi / 25.4
	for i, u := range record.Utilities() {
		x := int((on.X + on.W/2 + (-21+6*float64(i))*1000/360) * k)
		var contrast []int
		for y := int((on.Y + 60) * k); y < int((on.Y+140)*k); y++ {
			low, high := 255, 0
			for dx := -7; dx <= 7; dx++ {
				v := int(color.GrayModel.Convert(img.At(x+dx, y)).(color.Gray).Y)
				low, high = min(low, v), max(high, v)
			}
			contrast = append(contrast, high-low)
		}
		slices.Sort(contrast)
		if least := contrast[len(contrast)/10]; least < 60 {
			t.Errorf("%s: %d of 255 between the lightest and the darkest across the line", u.Code, least)
		} else {
			t.Logf("%s: %d of 255", u.Code, least)
		}
	}
}

// TestOutsideHostile: what a stranger put into a pack is text on paper.
func TestOutsideHostile(t *testing.T) {
	a := about()
	a.Name, a.OneCall = hostile, hostile
	_, pdf, _ := write(t, newPack(t, a, usual(t)...), Options{Scale: 480})
	text := tool(t, "pdftotext", saved(t, pdf), "-")
	if !strings.Contains(text, "<script>alert(1)</script>") || !strings.Contains(text, "Crossings and conflicts") || strings.ContainsAny(text, "\u202e\x1b\x00") {
		t.Error("a hostile text broke the paper")
	}
}
