package fieldbook

import (
	"bytes"
	"errors"
	"image"
	"path/filepath"
	"testing"

	"groundsheet/tiles/raster"
)

// pictured is a picture and its hash.
func pictured(t testing.TB, kind raster.Kind) ([]byte, string) {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 900, 700))
	for i := range img.Pix {
		img.Pix[i] = byte(i*i>>3) | 1
	}
	data, err := raster.Encode(img, kind)
	if err != nil {
		t.Fatal(err)
	}
	return data, hashOf(data)
}

func TestPhotoInPieces(t *testing.T) {
	data, hash := pictured(t, raster.JPG)
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	b := opened(t, path, Options{})
	const piece = 20_000
	if len(data) < 3*piece {
		t.Fatalf("the picture has %d bytes", len(data))
	}
	send := func(at, to int) Stored {
		t.Helper()
		s, err := b.AddPiece(t.Context(), Piece{hash, "image/jpeg", int64(len(data)), int64(at), data[at:to]})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, c := range []struct{ at, to, have int }{
		{piece, 2 * piece, 0}, {0, piece, piece}, {0, piece, piece}, {3 * piece, 3*piece + 1, piece}, {piece / 2, 2 * piece, 2 * piece},
	} {
		if s := send(c.at, c.to); s != (Stored{int64(c.have), false}) {
			t.Fatalf("%v: %+v", c, s)
		}
	}
	if got, _, err := b.Photo(t.Context(), hash); got != nil || err != nil {
		t.Errorf("half a photo: %d bytes, %v", len(got), err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	b = opened(t, path, Options{})
	s, err := b.Have(t.Context(), hash)
	for ; err == nil && !s.Done; s = send(int(s.Have), min(int(s.Have)+piece, len(data))) {
	}
	got, media, err := b.Photo(t.Context(), hash)
	if err != nil || media != "image/jpeg" || !bytes.Equal(got, data) {
		t.Errorf("%d bytes, %s, %v", len(got), media, err)
	}
	if s := send(0, piece); !s.Done {
		t.Errorf("after the end: %+v", s)
	}
	if _, err := b.db.Exec(`DELETE FROM piece`); err == nil {
		t.Error("a proved photo was removed")
	}
	if v := whole(t, b); v.Photos != 1 {
		t.Errorf("%+v", v)
	}
}

func TestBadPhotos(t *testing.T) {
	jpg, hash := pictured(t, raster.JPG)
	png, pngHash := pictured(t, raster.PNG)
	svg := []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>`)
	bomb := bytes.Clone(png)
	copy(bomb[16:24], "\x00\x00\xff\xff\x00\x00\xff\xff")
	huge := bytes.Clone(jpg)
	frame := bytes.Index(huge, []byte{0xff, 0xc0}) // the frame header: 60,000 × 60,000 pixels from now on
	copy(huge[frame+5:], "\xea\x60\xea\x60")
	for name, p := range map[string]Piece{
		"huge":         {hashOf(huge), "image/jpeg", 0, 0, huge},
		"svg as png":   {hashOf(svg), "image/png", int64(len(svg)), 0, svg},
		"svg":          {hashOf(svg), "image/svg+xml", int64(len(svg)), 0, svg},
		"other type":   {hash, "image/png", 0, 0, jpg},
		"cut":          {hashOf(jpg[:len(jpg)-9]), "image/jpeg", 0, 0, jpg[:len(jpg)-9]},
		"another name": {pngHash, "image/jpeg", 0, 0, jpg},
		"bomb":         {hashOf(bomb), "image/png", 0, 0, bomb},
		"no name":      {"x", "image/jpeg", 0, 0, jpg},
	} {
		b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
		p.Of = int64(len(p.Data))
		var err error
		for at := 0; at < len(p.Data) && err == nil; at += MaxPiece {
			piece := p
			piece.At, piece.Data = int64(at), p.Data[at:min(at+MaxPiece, len(p.Data))]
			_, err = b.AddPiece(t.Context(), piece)
		}
		if !errors.Is(err, BadPhoto) {
			t.Errorf("%s: %v", name, err)
		}
		if s, err := b.Have(t.Context(), p.Hash); err != nil || s != (Stored{}) {
			t.Errorf("%s: it stays: %+v, %v", name, s, err)
		}
	}
}
