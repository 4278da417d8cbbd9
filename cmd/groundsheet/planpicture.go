package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/pack/office"
	"groundsheet/pack/picture"
	"groundsheet/pack/plan"
	"groundsheet/tiles/words"
)

// checkPicture proves that the picture can be drawn and may be written: a file
// that is there and no PNG is not a picture to be replaced.
func (f planFlags) checkPicture(p plan.Plan) error {
	if f.picture == "" {
		return nil
	}
	if !strings.EqualFold(filepath.Ext(f.picture), ".png") {
		return wrongUse(fmt.Sprintf("--picture %s is no PNG file", f.picture), "give it a name that ends in .png")
	}
	if z := p.Base.Zooms; f.pictureZoom >= 0 && (f.pictureZoom < z.Min || f.pictureZoom > z.Max) {
		return wrongUse(fmt.Sprintf("--picture-zoom %d: the plan has zooms %d to %d", f.pictureZoom, z.Min, z.Max),
			"name one of these")
	}
	there, err := os.ReadFile(f.picture)
	if err == nil && !bytes.HasPrefix(there, []byte("\x89PNG")) {
		return wrongUse(f.picture+" is there already and is no PNG", "give the picture another name")
	}
	if _, err := os.Stat(filepath.Dir(f.picture)); err != nil {
		return wrongUse(fmt.Sprintf("--picture: there is no folder %s", filepath.Dir(f.picture)), "make it, or name another")
	}
	return nil
}

// drawPicture draws the first base over what the office store holds of it.
func (a *app) drawPicture(ctx context.Context, w *office.Workspace, plans []plan.Plan, f planFlags) error {
	if f.picture == "" || len(plans[0].Covers) == 0 {
		return nil // a refused plan has nothing to draw, and says why
	}
	zoom := f.pictureZoom
	if zoom < 0 {
		zoom = picture.Deepest(plans[0])
	}
	var held picture.Held
	if shelf, err := w.Shelf(0); err != nil {
		return err
	} else if shelf != nil {
		held = shelf
	}
	var b bytes.Buffer
	of, err := picture.Write(ctx, &b, plans[0], zoom, held)
	if err != nil {
		return err
	}
	if err := os.WriteFile(f.picture, b.Bytes(), 0o644); err != nil {
		return err
	}
	if len(plans) > 1 {
		a.note("the picture is of the first base map, %s", plans[0].Source.Name)
	}
	a.note("%s", pictureWords(of, f.picture))
	return nil
}

// pictureWords says what the ground of a picture was made of.
func pictureWords(of picture.Imagery, path string) string {
	switch {
	case of.Of == 0:
		return words.Say("picture.small", "file", path, "zoom", of.Zoom)
	case !of.Drawn():
		return words.Say("picture.plain", "file", path, "zoom", of.Zoom, "of", of.Of)
	case of.Held == of.Of:
		return words.Say("picture.whole", "file", path, "zoom", of.Zoom, "of", of.Of)
	case of.Enlarged == 0:
		return words.Say("picture.some", "file", path, "zoom", of.Zoom, "held", of.Held, "of", of.Of)
	}
	return words.Say("picture.enlarged", "file", path, "zoom", of.Zoom, "held", of.Held, "of", of.Of, "more", of.Enlarged)
}
