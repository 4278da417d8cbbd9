package tomledit_test

import (
	"fmt"

	"groundsheet/tiles/tomledit"
)

func ExampleApply() {
	text, err := tomledit.Apply([]byte("name = \"Elm St\"  # as on the ticket\n"),
		tomledit.Change{Path: "name", Value: "Elm St 12"},
		tomledit.Change{Path: "around[]", Value: tomledit.Table{{Key: "center", Value: "40,-105"}, {Key: "radius", Value: "80ft"}}})
	fmt.Printf("%s%v\n", text, err)
	// Output:
	// name = "Elm St 12"  # as on the ticket
	//
	// [[around]]
	// center = "40,-105"
	// radius = "80ft"
	// <nil>
}
