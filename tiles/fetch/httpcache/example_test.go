package httpcache_test

import (
	"fmt"
	"net/http"
	"time"

	"groundsheet/tiles/fetch/httpcache"
)

func ExampleResponse_Freshness() {
	at := time.Date(2026, 1, 5, 6, 0, 0, 0, time.UTC)
	h := http.Header{}
	h.Set("Date", at.Format(http.TimeFormat))
	h.Set("Age", "100")
	h.Set("Cache-Control", `max-age=3600, private="ETag, X"`)
	r := httpcache.Response{Status: 200, Header: h, Control: httpcache.ParseDirectives(h), Requested: at, Received: at.Add(2 * time.Second)}
	fmt.Println(r.Freshness(), r.Control.Private(), r.NoStore())
	// Output: 58m18s false false
}
