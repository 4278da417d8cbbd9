package brief

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"

	"github.com/paulmach/orb"
	"golang.org/x/image/draw"

	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

// DocumentPhoto is a photo with what it shows.
type DocumentPhoto struct {
	Caption string
	Read    func(context.Context) ([]byte, error)
}

// Photos on paper.
const (
	mostPhotos   = 120 // more are in files
	photoPixels  = 900 // of the longer side
	photoQuality = 75
	photoColumns = 2
	photoHigh    = 74.0 // millimeters
	captionLines = 3
)

// photos writes photos two in a row, with their captions.
func (f *pageWriter) photos(ctx context.Context, all []DocumentPhoto) error {
	if len(all) == 0 {
		return nil
	}
	more := len(all) - mostPhotos
	all = all[:min(len(all), mostPhotos)]
	const caption = captionLines*cellSize*leading*point + 3
	f.breakPage(18 + photoHigh + caption) // the title goes with the first ones
	f.heading(words.Say("handover.photos"))
	wide := f.wide()/photoColumns - 3
	for i, p := range all {
		column := i % photoColumns
		if column == 0 {
			f.breakPage(photoHigh + caption)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		at := box{edge + float64(column)*(wide+6), f.y + 1, wide, photoHigh - 2}
		if err := f.photo(ctx, p, at); err != nil {
			return err
		}
		for n, line := range wrap(f.pdfCanvas, sanitize(p.Caption, documentCell), cellSize, false, wide, captionLines) {
			f.Text(orb.Point{at.X, at.Y + photoHigh + cellSize*leading*point*float64(n+1) - 2}, line, lettering{size: cellSize})
		}
		if column == photoColumns-1 || i == len(all)-1 {
			f.y += photoHigh + caption
		}
	}
	if more > 0 {
		f.note(words.Say("handover.more_photos", "n", more), false)
	}
	return nil
}

// photo draws one photo, as large as its place lets it be.
func (f *pageWriter) photo(ctx context.Context, p DocumentPhoto, at box) error {
	data, err := p.Read(ctx)
	if err != nil {
		return err
	}
	img, err := raster.Decode(data)
	if err != nil {
		f.Stroke(rectangle(at), pen{color: black, width: 0.4})
		f.Text(orb.Point{at.X + 2, at.Y + 6}, words.Say("handover.photo_unread"), lettering{size: cellSize})
		return nil
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	k := min(1, photoPixels/float64(max(w, h, 1)))
	small := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(w)*k)), max(1, int(float64(h)*k))))
	draw.Draw(small, small.Rect, image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(small, small.Rect, img, img.Bounds(), draw.Over, nil)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, small, &jpeg.Options{Quality: photoQuality}); err != nil {
		return err
	}
	side := min(at.W/float64(w), at.H/float64(h))
	f.Picture(out.Bytes(), box{at.X, at.Y, float64(w) * side, float64(h) * side})
	return nil
}
