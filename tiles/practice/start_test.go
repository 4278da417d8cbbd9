package practice

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"groundsheet/tiles"
)

func TestStart(t *testing.T) {
	for _, addr := range []string{"0.0.0.0:0", ":0", "192.0.2.1:8090", "example.org:80", "127.0.0.1", "[::]:0"} {
		if r, err := Start(context.Background(), addr, Options{}); err == nil {
			r.Close()
			t.Errorf("listens on %s", addr)
		}
	}
	if _, err := Start(context.Background(), "", Options{Zooms: tiles.Zooms{Min: 5, Max: 3}}); err == nil {
		t.Error("accepts reversed zooms")
	}
	for name, end := range map[string]func(r *Running, cancel func()){
		"closed":    func(r *Running, _ func()) {},
		"cancelled": func(_ *Running, cancel func()) { cancel() },
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithCancel(context.Background())
			defer cancel()
			r, err := Start(ctx, "", Options{})
			if err != nil {
				t.Fatal(err)
			}
			url := strings.NewReplacer("{z}", "18", "{x}", "54580", "{y}", "99230").Replace(r.URL)
			if res, _ := get(t, "GET", url); res.StatusCode != 200 {
				t.Errorf("status %s", res.Status)
			}
			end(r, cancel)
			if err := r.Close(); err != nil {
				t.Error(err)
			}
			if got := r.Server.Counts(); got != (Counts{Requests: 1, Sent: 1}) {
				t.Errorf("counted %+v", got)
			}
			if _, err := http.Get(url); err == nil {
				t.Error("still answers")
			}
		})
	}
}
