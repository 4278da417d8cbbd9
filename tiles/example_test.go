package tiles_test

import (
	"fmt"

	"groundsheet/tiles"
)

func Example() {
	id := tiles.At(-105.0456, 40.0123, 16)
	fmt.Println(id, "TMS row", id.TMSRow(), "in", id.Parent())
	c := tiles.NewCover(16, []tiles.Span{{Row: id.Y, First: id.X, Last: id.X + 3}})
	fmt.Println(c.Count(), "tiles,", c.Has(id))
	// Output:
	// 16/13645/24807 TMS row 40728 in 15/6822/12403
	// 4 tiles, true
}
