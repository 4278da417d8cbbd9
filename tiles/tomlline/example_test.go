package tomlline_test

import (
	"fmt"

	"groundsheet/tiles/tomlline"
)

func ExampleRead() {
	keys := tomlline.Read([]byte("name = \"Elm St\"\n\n[[around]]\ncenter = \"40,-105\"\n"))
	fmt.Println(keys.Line("around[0].center"), keys.Line("around[0].radius"), keys.Line("area"))
	// Output: 4 3 0
}
