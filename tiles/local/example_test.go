package local_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"

	"groundsheet/tiles"
	"groundsheet/tiles/local"
)

func Example() {
	dir, err := os.MkdirTemp("", "tiles")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := func(t tiles.ID) (string, error) { return filepath.Join(dir, t.String()+".png"), nil }
	err = errors.Join(os.MkdirAll(filepath.Join(dir, "3", "1"), 0o755), os.WriteFile(filepath.Join(dir, "3", "1", "2.png"), []byte("\x89PNG\r\n\x1a\n"), 0o600))
	files, openErr := local.OpenFolder(dir+"/{z}/{x}/{y}.png", path)
	if err = errors.Join(err, openErr); err != nil {
		fmt.Println(err)
		return
	}
	defer files.Close()
	client := http.Client{Transport: files}
	for _, address := range []string{"http://local.invalid/3/1/2", "http://local.invalid/3/1/3"} {
		request, _ := http.NewRequestWithContext(context.Background(), http.MethodGet, address, nil)
		r, err := client.Do(request)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(r.Status, r.Header.Get("Content-Type"))
		r.Body.Close()
	}
	// Output:
	// 200 OK image/png
	// 404 Not Found
}
