package raster

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"slices"
	"testing"

	"groundsheet/tiles/fault"
)

func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// slope is a picture in which every pixel differs from its neighbors.
func slope(side int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			m.SetRGBA(x, y, color.RGBA{uint8(x * 255 / side), uint8(y * 255 / side), uint8((x * y) % 251), 255})
		}
	}
	return m
}

func asPNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// withThumbnail puts a whole JPEG, end marker included, into an APP1 segment.
func withThumbnail(whole, thumbnail []byte) []byte {
	app1 := []byte{0xff, 0xe1, 0, 0}
	binary.BigEndian.PutUint16(app1[2:], uint16(2+len(thumbnail)))
	return slices.Concat(whole[:2], app1, thumbnail, whole[2:])
}

// declare changes what a PNG header says its dimensions are, with a good CRC.
func declare(whole []byte, width, height uint32) []byte {
	data := bytes.Clone(whole)
	binary.BigEndian.PutUint32(data[16:], width)
	binary.BigEndian.PutUint32(data[20:], height)
	binary.BigEndian.PutUint32(data[29:], crc32.ChecksumIEEE(data[12:29]))
	return data
}

type sample struct {
	name string
	data []byte
	want Picture
}

// samples are whole tiles of every form that is accepted.
func samples(t testing.TB) []sample {
	t.Helper()
	deep := image.NewRGBA64(image.Rect(0, 0, 5, 3))
	deep.Set(1, 1, color.RGBA64{1, 2, 3, 65535})
	palette := image.NewPaletted(image.Rect(0, 0, 16, 16), color.Palette{color.Black, color.White})
	baseline := file(t, "baseline.jpg")
	return []sample{
		{"png", asPNG(t, slope(16)), Picture{PNG, 16, 16}},
		{"png of 16 bits", asPNG(t, deep), Picture{PNG, 5, 3}},
		{"png with a palette", asPNG(t, palette), Picture{PNG, 16, 16}},
		{"jpeg baseline", baseline, Picture{JPG, 16, 16}},
		{"jpeg progressive", file(t, "progressive.jpg"), Picture{JPG, 16, 16}},
		{"jpeg with restart markers", file(t, "restart.jpg"), Picture{JPG, 16, 16}},
		{"jpeg grey", asJPEG(t, image.NewGray(image.Rect(0, 0, 9, 7))), Picture{JPG, 9, 7}},
		{"jpeg with a thumbnail", withThumbnail(asJPEG(t, slope(24)), baseline), Picture{JPG, 24, 24}},
		{"webp lossy", file(t, "lossy.webp"), Picture{WebP, 16, 16}},
		{"webp lossless", file(t, "lossless.webp"), Picture{WebP, 16, 16}},
		{"webp with alpha", file(t, "alpha.webp"), Picture{WebP, 16, 16}},
	}
}

// wantFlaw fails unless the error is a flaw of that sort with words to it.
func wantFlaw(t *testing.T, err error, why *fault.Kind) {
	t.Helper()
	var f *fault.Fault
	if !errors.As(err, &f) {
		t.Fatalf("error %v, want a flaw %q", err, why)
	}
	if f.Kind != why || f.Error() == "" {
		t.Fatalf("flaw %q (%v), want %q", f.Kind, err, why)
	}
}
