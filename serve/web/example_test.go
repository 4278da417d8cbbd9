package web_test

import (
	"fmt"

	"groundsheet/serve/web"
)

func ExampleMediaOf() {
	fmt.Println(web.MediaOf("app.js"))
	// Output: text/javascript; charset=utf-8
}
