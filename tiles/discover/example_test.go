package discover_test

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"

	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
)

func ExampleDescribe() {
	service := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprintf(w, `{"tilejson": "3.0.0", "name": "Ortho 2025", "tiles": ["http://%s/{z}/{x}/{y}.png"], "minzoom": 8, "maxzoom": 20}`, r.Host)
	}))
	defer service.Close()
	offers, err := discover.Describe(context.Background(), source.Source{URL: service.URL, TileSize: 256}, discover.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, o := range offers {
		fmt.Println(o.Source.Kind, o.Title, o.Source.Zooms, o.Whole)
	}
	// Output: tilejson Ortho 2025 {8 20} true
}
