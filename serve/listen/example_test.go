package listen_test

import (
	"context"
	"fmt"
	"io"
	"net/http"

	"groundsheet/serve/listen"
)

func ExampleServe() {
	inner := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "the map") })
	ctx, stop := context.WithCancel(context.Background())
	err := listen.Serve(ctx, "127.0.0.1:0", inner, listen.Options{}, func(at listen.Access) {
		go func() {
			defer stop()
			resp, err := http.Get("http://" + at.Addr.String())
			if err != nil {
				fmt.Println(err)
				return
			}
			defer resp.Body.Close()
			body, _ := io.ReadAll(resp.Body)
			fmt.Println(at.Open, string(body))
		}()
	})
	fmt.Println(err)
	// Output:
	// true the map
	// <nil>
}
