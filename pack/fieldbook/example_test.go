package fieldbook_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
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

// A phone's text goes in, a receipt comes out, and the book folds to marks.
func Example() {
	folder, err := os.MkdirTemp("", "example")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	book, err := fieldbook.Open(filepath.Join(folder, "larkwater.fieldbook"), fieldbook.About{Name: "Larkwater"}, fieldbook.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer book.Close()
	const id = "0123456789abcdef0123456789abcdef"
	text := `{"layout":1,"id":"` + id + `","mark":"` + id + `","after":[],"action":"write","who":"Ada","phone":"` + id + `",
		"clock":"2031-05-06T12:00:00Z","clock_ahead_s":0,"feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[-105,40]},
		"properties":{"kind":"reading","utility":"water","depth_m":1.02,"method":"paint","quality_level":"B"}}}`
	for _, text := range []string{text, strings.Replace(text, `"paint"`, `"sonde"`, 1)} {
		receipts, err := book.Append(context.Background(), fieldbook.Sender{Role: "mark"}, [][]byte{[]byte(text)})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("number %d, refused: %q\n", receipts[0].Number, receipts[0].Refused)
	}
	marks, err := book.Marks(context.Background())
	fmt.Println(len(marks), "mark:", marks[0].Kind(), marks[0].Feature.Properties["depth_m"], err)
	// Output:
	// number 0, refused: "paint alone is quality level D, never better"
	// number 1, refused: ""
	// 1 mark: reading 1.02 <nil>
}
