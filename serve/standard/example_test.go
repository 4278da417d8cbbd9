package standard_test

import (
	"fmt"
	"log/slog"
	"net/http/httptest"

	"groundsheet/serve/document"
	"groundsheet/serve/standard"
)

func ExampleRoutes() {
	routes := standard.Routes(document.NewResponder(slog.Default()), nil)
	w := httptest.NewRecorder()
	routes["GET /collections"](w, httptest.NewRequest("GET", "http://field.local/collections", nil), nil)
	fmt.Println(w.Body)
	// Output: {"collections":[],"links":[{"href":"http://field.local/collections","rel":"self","type":"application/json","title":"this document"}]}
}
