package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/places"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// tile is the tile to try: at a place, in the middle of the job, or of what the
// source covers. Otherwise there is no way to know: a source need not
// have the tile at 0,0. The practice source draws every place.
func (f tryFlags) tile(s source.Source) (id tiles.ID, err error) {
	lat, lon := 0.0, 0.0
	switch {
	case f.at != "":
		if lat, lon, err = places.Parse(f.at); err != nil {
			return id, fmt.Errorf("--at: %w", err)
		}
	case f.job != "":
		if lon, lat, err = middleOf(f.job); err != nil {
			return id, err
		}
	case s.Bounds != nil:
		lon, lat = s.Bounds.Center()
	case s.Kind != source.KindPractice:
		return id, wrongUse(fmt.Sprintf("no bounds are stated for source %q, so nothing tells where it has imagery", s.Name),
			"name a place with --at LAT,LON, or a job with --job DIR, whose middle is asked for then")
	}
	zoom := f.zoom
	if zoom < 0 {
		zoom = min(s.Zooms.Max, max(s.Zooms.Min, 16))
	}
	if zoom < s.Zooms.Min || zoom > s.Zooms.Max {
		return id, wrongUse(fmt.Sprintf("source %q has zooms %d to %d, not %d", s.Name, s.Zooms.Min, s.Zooms.Max, zoom),
			"choose one of them with --zoom")
	}
	return tiles.At(lon, lat, zoom), nil
}

// middleOf is the middle of the dig area of a job, in degrees WGS 84.
func middleOf(dir string) (lon, lat float64, err error) {
	j, err := job.Read(dir)
	if err != nil {
		return 0, 0, err
	}
	a, _, err := j.ReadArea() // the plan reports notes
	if err != nil {
		return 0, 0, err
	}
	lon, lat = job.Inputs{Area: a, Ground: pack.Ground{Area: a.Outline(0)}}.Middle()
	return lon, lat, nil
}

// pictureKinds are the endings that a kept picture may have.
var pictureKinds = map[string]raster.Kind{".jpg": raster.JPG, ".jpeg": raster.JPG, ".png": raster.PNG,
	".webp": raster.WebP}

// checkSave proves, before anything is asked, that a picture may be kept under
// a name: nothing but a picture of the same kind is written over.
func checkSave(path string) error {
	if path == "" {
		return nil
	}
	kind, ok := pictureKinds[strings.ToLower(filepath.Ext(path))]
	if !ok {
		return wrongUse(fmt.Sprintf("--save %s is no name of a picture", path),
			"give it a name that ends in .jpg, .png or .webp")
	}
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return wrongUse(fmt.Sprintf("--save: there is no folder %s", filepath.Dir(path)), "make it, or name another")
	}
	there, err := os.ReadFile(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return wrongUse(fmt.Sprintf("--save %s: %v", path, err), "give the picture another name")
	}
	if p, _ := raster.Prove(there, 0); p.Kind != kind {
		return wrongUse(fmt.Sprintf("%s is there already and is no %s picture", path, kind), "give the picture another name")
	}
	return nil
}

// savePicture keeps the picture as it came, byte for byte.
func (a *app) savePicture(path string, p discover.Probe) error {
	switch {
	case path == "":
		return nil
	case p.Flaw != nil:
		a.say("saved: nothing, since no picture came")
		return nil
	case pictureKinds[strings.ToLower(filepath.Ext(path))] != p.Picture.Kind:
		return wrongUse(fmt.Sprintf("--save %s: the picture that came is of kind %s; nothing was saved",
			path, p.Picture.Kind), "give it a name that ends in ."+string(p.Picture.Kind))
	}
	if there, err := os.ReadFile(path); err == nil && bytes.Equal(there, p.Data) {
		a.say("saved: %s holds this picture already", path)
		return nil
	}
	if err := os.WriteFile(path, p.Data, 0o644); err != nil {
		return fmt.Errorf("keeping the picture: %w", err)
	}
	a.say("saved: %s", path)
	return nil
}
