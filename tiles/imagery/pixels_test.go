package imagery

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/gdal"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

func grayLayout(kind string, bands int) layout {
	return layout{kind: kind, bands: bands, red: 0, green: min(1, bands-1), blue: min(2, bands-1), alpha: -1}
}

// TestRead: what gdalwarp writes becomes the colors that are meant.
func TestRead(t *testing.T) {
	n := binary.NativeEndian
	sixteen := func(values ...uint16) (out []byte) {
		for _, v := range values {
			out = n.AppendUint16(out, v)
		}
		return out
	}
	palette := layout{kind: "Byte", bands: 1, alpha: -1, hasMap: true}
	palette.colors[7] = [4]uint8{1, 2, 3, 255}
	withAlpha := grayLayout("Byte", 4)
	withAlpha.alpha = 3
	inner := grayLayout("Byte", 5)
	inner.alpha = 3
	float := n.AppendUint32(n.AppendUint32(nil, math.Float32bits(float32(math.NaN()))), math.Float32bits(255))
	for name, c := range map[string]struct {
		layout
		data  []byte
		scale []float64
		want  color.NRGBA
	}{
		"bytes":            {grayLayout("Byte", 3), []byte{10, 20, 30, 255}, nil, color.NRGBA{10, 20, 30, 255}},
		"not there":        {grayLayout("Byte", 3), []byte{10, 20, 30, 0}, nil, color.NRGBA{}},
		"gray":             {grayLayout("Byte", 1), []byte{10, 255}, nil, color.NRGBA{10, 10, 10, 255}},
		"bytes, stretched": {grayLayout("Byte", 1), []byte{60, 255}, []float64{10, 110}, color.NRGBA{128, 128, 128, 255}},
		"half there":       {withAlpha, []byte{10, 20, 30, 99}, nil, color.NRGBA{10, 20, 30, 99}},
		"half inside":      {inner, []byte{10, 20, 30, 99, 5, 255}, nil, color.NRGBA{10, 20, 30, 99}},
		"16 bits":          {grayLayout("UInt16", 3), sixteen(1000, 1500, 2000, 65535), []float64{1000, 2000}, color.NRGBA{0, 128, 255, 255}},
		"16 bits each":     {grayLayout("UInt16", 3), sixteen(5, 5, 5, 65535), []float64{5, 6, 4, 5, 0, 10}, color.NRGBA{0, 255, 128, 255}},
		"signed":           {grayLayout("Int16", 1), sixteen(0xffff, 32767), []float64{-1, 1}, color.NRGBA{0, 0, 0, 255}},
		"no number":        {grayLayout("Float32", 1), float, []float64{0, 1}, color.NRGBA{0, 0, 0, 255}},
		"palette":          {palette, []byte{7, 255}, nil, color.NRGBA{1, 2, 3, 255}},
	} {
		img := image.NewNRGBA(image.Rect(0, 0, 1, 1))
		if err := c.layout.read(bytes.NewReader(c.data), img, c.scale); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if got := img.NRGBAAt(0, 0); got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
		if err := c.layout.read(bytes.NewReader(c.data[1:]), img, c.scale); !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("%s, cut short: %v", name, err)
		}
	}
}

// TestTilesOfPresence: all there is a JPEG, a part of it a PNG or the stated
// background, nothing a hole.
func TestTilesOfPresence(t *testing.T) {
	block := image.NewNRGBA(image.Rect(0, 0, 768, 256))
	for i := 0; i < len(block.Pix); i += 4 {
		x := i / 4 % 768
		if x < 256 || x < 512 && i/4/768 < 100 {
			copy(block.Pix[i:], []byte{10, 200, 30, 255})
		}
	}
	a := &Answerer{opening: &opening{src: source.Source{TileSize: 256}}}
	kind := func(column uint32) raster.Kind {
		t.Helper()
		data, err := a.tile(block, column, 0)
		if err != nil {
			t.Fatal(err)
		}
		if data == nil {
			return ""
		}
		p, err := raster.Prove(data, 256)
		if err != nil {
			t.Fatal(err)
		}
		return p.Kind
	}
	if got := []raster.Kind{kind(0), kind(1), kind(2)}; !slices.Equal(got, []raster.Kind{"jpg", "png", ""}) {
		t.Errorf("%q", got)
	}
	a.src.Background = "#ff0000"
	if kind(1) != "jpg" || kind(2) != "" {
		t.Error("a stated background wants no transparency, and fills no hole")
	}
	a.src.Format = "image/png"
	data, _ := a.tile(block, 1, 0)
	img, err := raster.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if r, g, b, alpha := img.At(5, 200).RGBA(); r != 0xffff || g != 0 || b != 0 || alpha != 0xffff {
		t.Errorf("background %x %x %x %x", r, g, b, alpha)
	}
	if kind(0) != "png" {
		t.Error("png was asked for")
	}
}

// TestWithoutGDAL: the message names the package.
func TestWithoutGDAL(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := Open(t.Context(), source.Source{Name: "a", Kind: source.KindRaster, File: "a.tif"}, nil)
	if !errors.Is(err, gdal.Missing) || !strings.Contains(err.Error(), "gdalinfo is not installed") {
		t.Errorf("%v", err)
	}
}

// TestTouching: a block meets the pictures near it, in their order.
func TestTouching(t *testing.T) {
	id := tiles.At(10.001, 45.001, 15)
	a := &Answerer{opening: &opening{src: source.Source{TileSize: 256}}, pictures: []picture{
		{name: "far", box: tiles.Box{West: 20, South: 45, East: 21, North: 46}},
		{name: "below", box: tiles.Box{West: 10, South: 45, East: 10.01, North: 45.01}},
		{name: "above", box: tiles.Box{West: 9.9, South: 44.9, East: 10.01, North: 45.02}}}}
	var names []string
	for _, p := range a.touching(id, 1) {
		names = append(names, p.name)
	}
	if !slices.Equal(names, []string{"below", "above"}) {
		t.Errorf("%q", names)
	}
	before := a.tag(id, a.touching(id, 1))
	a.pictures[0].stamp.size = 9
	if a.tag(id, a.touching(id, 1)) != before {
		t.Error("a far picture changed the tag")
	}
	if a.pictures[2].stamp.size = 9; a.tag(id, a.touching(id, 1)) == before {
		t.Error("a changed picture kept the tag")
	}
}
