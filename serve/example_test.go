package serve_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"testing/fstest"

	"groundsheet/serve"
)

func ExampleOpen() {
	folder, err := os.MkdirTemp("", "packs")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	s, err := serve.Open(context.Background(), []string{folder}, serve.Options{Page: fstest.MapFS{"index.html": {}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer s.Close()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest("GET", "/healthz", nil))
	fmt.Print(w.Body)
	// Output: ok
}
