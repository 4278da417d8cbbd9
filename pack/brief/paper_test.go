package brief

import (
	"bytes"
	"testing"

	"github.com/paulmach/orb"
)

// TestColorAfterClip: a text after a clip stands in its own color, whatever was
// filled before and within the clip.
func TestColorAfterClip(t *testing.T) {
	p := newPDF(Letter, "Clip", now)
	p.pdf.SetCompression(false)
	p.pdf.AddPage()
	p.Disc(orb.Point{20, 20}, 5, "#eeeeee")
	p.Clip(box{10, 10, 50, 50})
	p.Disc(orb.Point{20, 20}, 5, black)
	p.Unclip()
	p.Text(orb.Point{20, 80}, "Sheet", lettering{size: 9})
	var b bytes.Buffer
	if err := p.write(&b); err != nil {
		t.Fatal(err)
	}
	page := b.Bytes()
	text := bytes.Index(page, []byte(") Tj"))
	end := bytes.LastIndex(page[:text], []byte("\nQ\n"))
	if text < 0 || end < 0 || !bytes.Contains(page[end:text], []byte("0.000 g")) {
		t.Errorf("the color of the text is not set:\n%s", page[max(0, end-200):max(0, text)])
	}
}
