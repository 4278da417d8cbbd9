package brief_test

import (
	"context"
	"fmt"
	"io"

	"groundsheet/pack"
	"groundsheet/pack/brief"
)

func ExampleWrite() {
	p := &pack.Pack{Path: "site.mbtiles"}
	_, err := brief.Write(context.Background(), p, io.Discard, io.Discard, brief.Options{Paper: "a3"})
	fmt.Println(err)
	// Output: paper "a3" is not known; use letter or a4
}
