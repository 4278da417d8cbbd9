package event_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"time"

	"groundsheet/serve/event"
)

func ExampleHub() {
	hub := event.New(event.Options{Now: time.Now})
	defer hub.Close()
	hub.Announce("packs", func() any { return map[string]string{"elm": "1"} })
	w := httptest.NewRecorder()
	hub.ServeHTTP(w, httptest.NewRequest(http.MethodHead, "/events", nil))
	fmt.Println(w.Code, w.Header().Get("Content-Type"), hub.Streams())
	// Output: 200 text/event-stream 0
}
