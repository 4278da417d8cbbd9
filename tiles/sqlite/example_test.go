package sqlite_test

import (
	"fmt"
	"strings"

	"groundsheet/tiles/sqlite"
)

func ExampleURI() {
	fmt.Println(strings.TrimPrefix(sqlite.URI("/jobs/50% done?.mbtiles"), "file://"))
	// Output:
	// /jobs/50%25%20done%3F.mbtiles
}
