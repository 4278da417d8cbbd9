package picture_test

import (
	"context"
	"fmt"
	"io"

	"groundsheet/pack/picture"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
)

func ExampleWrite() {
	p := plan.Plan{Covers: []tiles.Cover{tiles.NewCover(16, nil)}}
	p.Base.Zooms = tiles.Zooms{Min: 16, Max: 16}
	_, err := picture.Write(context.Background(), io.Discard, p, 20, nil)
	fmt.Println(err)
	// Output: picture of zoom 20: the plan has zooms 16 to 16
}
