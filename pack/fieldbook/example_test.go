package fieldbook_test

import (
	"fmt"
	"time"

	"groundsheet/pack/fieldbook"
)

func ExamplePath() {
	fmt.Println(fieldbook.Path("out/larkwater.mbtiles"))
	// Output: out/larkwater.fieldbook
}

// What is hashed can be made by hand, with any program that knows SHA-256.
func ExampleEntry_Chain() {
	e := fieldbook.Entry{
		Number: 1, ID: "aa", Mark: "aa", Action: fieldbook.Write, Text: []byte(`{"layout":1}`),
		Received: time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC), Session: "c0ffee", Role: "mark", Before: "00ff",
	}
	fmt.Printf("%s\n", e.Chain())
	// Output: 4:00ff,1:1,2:aa,2:aa,5:write,24:2031-05-06T12:00:00.000Z,6:c0ffee,4:mark,12:{"layout":1},
}
