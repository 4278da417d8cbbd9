package brief

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"maps"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"golang.org/x/image/draw"

	"groundsheet/pack"
	"groundsheet/pack/vectorbase"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// Pictures of the base map on paper. They are lightened, so that lines stand out on
// a black-and-white printer too.
const (
	dotsPerInch = 200
	lighter     = 0x58 // of white, of 0xff: a third
	quality     = 80   // JPEG
)

// perInch is the resolution of the pictures: [dotsPerInch], less in tests under the
// race detector, which takes ten times as long for each dot.
var perInch = float64(dotsPerInch)

// emptyGround is the color of ground without a picture.
var emptyGround = color.RGBA{0xD8, 0xD8, 0xD8, 0xFF}

// basePicture is the base map of a view.
type basePicture struct {
	jpeg     []byte
	zoom     int // of the tiles it was drawn from
	unread   int // tiles that are damaged
	enlarged int // wanted tiles replaced by one of a shallower zoom
	blank    int // wanted tiles without any picture
}

func newImage(on box) *image.RGBA {
	perMM := perInch / 25.4
	img := image.NewRGBA(image.Rect(0, 0, int(math.Round(on.W*perMM)), int(math.Round(on.H*perMM))))
	draw.Draw(img, img.Rect, image.NewUniform(emptyGround), image.Point{}, draw.Src)
	return img
}

// drawBase draws the base map of a view from the pack's tiles, each placed by its
// own corners.
func drawBase(ctx context.Context, data packData, v view) (basePicture, error) {
	p := data.pack
	upright := v.upright()
	img := newImage(upright.on)
	b := v.ground(0)
	pic := basePicture{zoom: zoomOf(p, v)}
	first, last := tiles.At(b.Left(), b.Top(), pic.zoom), tiles.At(b.Right(), b.Bottom(), pic.zoom)
	s := tileSource{pack: p, margin: data.margin, decoded: map[tiles.ID]image.Image{}}
	if p.Vector() {
		s.vector = vectorbase.New(p)
	}
	for y := first.Y; y <= last.Y; y++ {
		for x := first.X; x <= last.X; x++ {
			id := tiles.ID{Z: uint32(pic.zoom), X: x, Y: y}
			if !v.meets(id) {
				continue
			}
			if err := s.drawTile(ctx, img, upright, id, &pic); err != nil {
				return pic, err
			}
		}
		// each is drawn once
		maps.DeleteFunc(s.decoded, func(id tiles.ID, _ image.Image) bool { return int(id.Z) == pic.zoom })
	}
	if v.turn != 0 {
		img = v.turnPicture(img)
	}
	draw.DrawMask(img, img.Rect, image.White, image.Point{}, image.NewUniform(color.Alpha{lighter}),
		image.Point{}, draw.Over)
	var out bytes.Buffer
	err := jpeg.Encode(&out, img, &jpeg.Options{Quality: quality})
	pic.jpeg = out.Bytes()
	return pic, err
}

// lightened is a color "#RRGGBB" as it is on paper.
func lightened(hex string) string {
	v, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 24)
	if err != nil {
		return bare
	}
	out := "#"
	for shift := 16; shift >= 0; shift -= 8 {
		c := int(v>>shift) & 0xff
		out += fmt.Sprintf("%02X", c+(0xff-c)*lighter/0xff)
	}
	return out
}

// zoomOf is the shallowest packed zoom that is as sharp as the paper.
func zoomOf(p *pack.Pack, v view) int {
	dot := v.scale * 0.0254 / dotsPerInch
	z := tiles.NativeZoom(v.middle.Lat(), dot*1.3, p.Info.About.TileSize)
	deepest := p.Info.Zooms.Max
	if p.Vector() {
		deepest += vectorbase.Deeper
	}
	return min(max(z, p.Info.Zooms.Min), deepest)
}

// tileSource gives decoded tiles.
type tileSource struct {
	pack    *pack.Pack
	margin  orb.MultiPolygon
	decoded map[tiles.ID]image.Image // nil = damaged
	vector  *vectorbase.Base         // of vector tiles; nil for pictures
}

func (s tileSource) drawTile(ctx context.Context, img *image.RGBA, v view, id tiles.ID, pic *basePicture) error {
	from, data, err := s.pack.Nearest(ctx, id)
	if err != nil {
		return err
	}
	b := id.Bounds()
	if s.vector != nil && data != nil {
		tile, err := s.vector.Tile(ctx, id)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil || tile == nil:
			pic.unread++
		default:
			draw.ApproxBiLinear.Scale(img, target(img, v, id), tile, tile.Bounds(), draw.Src, nil)
		}
		return nil
	}
	wanted := (from != id || data == nil) && touches(s.margin,
		orb.Bound{Min: orb.Point{b.West, b.South}, Max: orb.Point{b.East, b.North}})
	if data == nil {
		if wanted {
			pic.blank++
		}
		return nil
	}
	tile, known := s.decoded[from]
	if !known {
		if tile, err = raster.Decode(data); err != nil {
			tile = nil // check names it; the sheet says so
		}
		s.decoded[from] = tile
	}
	if tile == nil {
		pic.unread++
		return nil
	}
	if wanted {
		pic.enlarged++
	}
	draw.ApproxBiLinear.Scale(img, target(img, v, id), tile, partOf(tile.Bounds(), from, id), draw.Src, nil)
	return nil
}

// target is the place of a tile on the picture in whole pixels, without gaps
// between neighbors.
func target(img *image.RGBA, v view, id tiles.ID) image.Rectangle {
	b := id.Bounds()
	k := float64(img.Rect.Dx()) / v.on.W
	at := func(lon, lat float64) image.Point {
		p := v.toPaper(orb.Point{lon, lat})
		return image.Pt(int(math.Round((p[0]-v.on.X)*k)), int(math.Round((p[1]-v.on.Y)*k)))
	}
	return image.Rectangle{Min: at(b.West, b.North), Max: at(b.East, b.South)}
}

// partOf is the part of a shallower tile that a deeper one covers.
func partOf(whole image.Rectangle, from, id tiles.ID) image.Rectangle {
	down := id.Z - from.Z
	n := float64(uint32(1) << down)
	w, h := float64(whole.Dx())/n, float64(whole.Dy())/n
	x, y := float64(id.X-from.X<<down)*w, float64(id.Y-from.Y<<down)*h
	r := image.Rect(int(x), int(y), int(math.Ceil(x+w)), int(math.Ceil(y+h))).Add(whole.Min)
	return r.Intersect(whole)
}
