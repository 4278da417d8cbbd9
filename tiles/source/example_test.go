package source_test

import (
	"fmt"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func Example() {
	sources, err := source.Read([]byte(`
[county]
kind = "xyz"
url = "https://tiles.county.example/{z}/{x}/{y}.jpg"
zooms = [8, 21]
`), "sources.toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	county, err := sources.Find("county")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(county.Address(tiles.At(-105.05, 40.01, 12)))
	fmt.Println(county.Refusal())
	// Output:
	// https://tiles.county.example/12/852/1550.jpg <nil>
	// source "county" may not be packed: sources.toml states no terms for it; read the provider's terms, then add [county.terms] with offline = "allowed" or "permission" and where you read it
}
