package serve

import "net/http"

// routes is a mux that knows what it was told, so that a test can walk every route
// there is.
type routes struct {
	http.ServeMux
	patterns []string
}

// Handle registers a handler for a pattern.
func (m *routes) Handle(pattern string, h http.Handler) {
	m.patterns = append(m.patterns, pattern)
	m.ServeMux.Handle(pattern, h)
}

// HandleFunc registers a handler for a pattern.
func (m *routes) HandleFunc(pattern string, h func(http.ResponseWriter, *http.Request)) {
	m.Handle(pattern, http.HandlerFunc(h))
}
