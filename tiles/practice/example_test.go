package practice_test

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"groundsheet/tiles/practice"
)

func ExampleStart() {
	source, err := practice.Start(context.Background(), "", practice.Options{BusyEvery: -1})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer source.Close()
	tile := strings.NewReplacer("{z}", "16", "{x}", "13645", "{y}", "24807").Replace(source.URL)
	answer, err := http.Get(tile)
	if err != nil {
		fmt.Println(err)
		return
	}
	answer.Body.Close()
	fmt.Println(answer.Status, answer.Header.Get("Content-Type"), answer.Header.Get("Cache-Control"))
	// Output: 200 OK image/jpeg public, max-age=604800
}
