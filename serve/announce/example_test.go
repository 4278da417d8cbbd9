package announce_test

import (
	"fmt"

	"groundsheet/serve/announce"
)

func ExampleValid() {
	fmt.Println(announce.Valid("crew-7"), announce.Valid("crew 7"))
	// Output: true false
}
