package auth_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing/fstest"

	"groundsheet/serve/auth"
)

func Example() {
	secret := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprintf(w, "the map, to %s", auth.RoleOf(r)) })
	page := fstest.MapFS{"join.html": {}, "join.js": {}, "join.css": {}, "guard.js": {}, "icon.svg": {}, "apple-touch-icon.png": {}}
	h, _, err := auth.New(secret, auth.Options{ViewerCode: "larkwater 1907", Page: page})
	if err != nil {
		fmt.Println(err)
		return
	}
	ask := func(r *http.Request) *http.Response {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Result()
	}
	fmt.Println(ask(httptest.NewRequest("GET", "http://localhost/", nil)).Status)

	join := httptest.NewRequest("POST", "http://localhost/join", strings.NewReader(`{"code": "Larkwater-1907"}`))
	join.Header.Set("Content-Type", "application/json")
	session := ask(join).Cookies()[0]

	r := httptest.NewRequest("GET", "http://localhost/", nil)
	r.AddCookie(session)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	fmt.Println(w.Code, w.Body)
	// Output:
	// 401 Unauthorized
	// 200 the map, to look
}

func ExampleFormatCode() {
	fmt.Println(auth.FormatCode("012345678901"))
	// Output: 012 345 678 901
}
