package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	_ "image/jpeg" // the practice source draws JPEG
	"io"
	"net/http"
	"strings"

	"groundsheet/tiles"
)

// prove asks a field server for one of everything, as a phone would, and
// prints what came.
func prove(ctx context.Context, base string) error {
	page, err := get(ctx, base+"/")
	if err != nil {
		return err
	}
	fmt.Printf("page      %d bytes of HTML\n", len(page))
	var packs struct {
		Packs []struct{ ID, About string }
	}
	if err := getJSON(ctx, base+"/packs.json", &packs); err != nil {
		return err
	}
	if len(packs.Packs) != 1 {
		return fmt.Errorf("%d packs are served, one is wanted", len(packs.Packs))
	}
	var about struct{ TileJSON, Overlays string }
	if err := getJSON(ctx, base+packs.Packs[0].About, &about); err != nil {
		return err
	}
	if err := proveTiles(ctx, base+about.TileJSON); err != nil {
		return err
	}
	return proveOverlays(ctx, base, base+about.Overlays)
}

func proveTiles(ctx context.Context, url string) error {
	var t struct {
		TileJSON         string
		Tiles            []string
		MinZoom, MaxZoom int
		Bounds           []float64
	}
	if err := getJSON(ctx, url, &t); err != nil {
		return err
	}
	if t.TileJSON != "3.0.0" || len(t.Tiles) == 0 || len(t.Bounds) != 4 {
		return fmt.Errorf("the TileJSON lacks what it must have: %+v", t)
	}
	fmt.Printf("TileJSON  version %s, zooms %d to %d\n", t.TileJSON, t.MinZoom, t.MaxZoom)
	lon, lat := (t.Bounds[0]+t.Bounds[2])/2, (t.Bounds[1]+t.Bounds[3])/2
	for _, zoom := range []int{t.MaxZoom, t.MaxZoom + 3} {
		x, y := tiles.Project(lon, lat)
		n := float64(uint64(1) << zoom)
		place := strings.NewReplacer("{z}", fmt.Sprint(zoom), "{x}", fmt.Sprint(int(x*n)), "{y}", fmt.Sprint(int(y*n)))
		body, err := get(ctx, place.Replace(t.Tiles[0]))
		if err != nil {
			return err
		}
		img, kind, err := image.Decode(bytes.NewReader(body))
		if err != nil {
			return fmt.Errorf("the tile of zoom %d is no image: %w", zoom, err)
		}
		fmt.Printf("tile      zoom %d, %s of %v, %d bytes\n", zoom, kind, img.Bounds().Size(), len(body))
	}
	return nil
}

func proveOverlays(ctx context.Context, base, url string) error {
	var list struct {
		Overlays []struct{ Title, URL, Colour string }
	}
	if err := getJSON(ctx, url, &list); err != nil {
		return err
	}
	if len(list.Overlays) == 0 {
		return fmt.Errorf("the pack has no overlay")
	}
	for _, o := range list.Overlays {
		var features struct{ Features []any }
		if err := getJSON(ctx, base+o.URL, &features); err != nil {
			return err
		}
		fmt.Printf("overlay   %q, %d features, %s\n", o.Title, len(features.Features), o.Colour)
	}
	return nil
}

func getJSON(ctx context.Context, url string, into any) error {
	body, err := get(ctx, url)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(body, into); err != nil {
		return fmt.Errorf("%s: %w", url, err)
	}
	return nil
}

func get(ctx context.Context, url string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return nil, err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s: answered %s", url, resp.Status)
	}
	return body, err
}
