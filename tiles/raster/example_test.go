package raster_test

import (
	"errors"
	"fmt"
	"image"

	"groundsheet/tiles/raster"
)

func ExampleProve() {
	tile, _ := raster.Encode(image.NewGray(image.Rect(0, 0, 256, 256)), raster.PNG)
	picture, err := raster.Prove(tile, 256)
	fmt.Println(picture.Kind, picture.Width, err)
	_, err = raster.Prove(tile[:100], 256)
	fmt.Println(errors.Is(err, raster.Truncated), err)
	// Output:
	// png 256 <nil>
	// true PNG cut short (a chunk runs past the end)
}
