package fetch_test

import (
	"net/http"
	"strings"
	"testing"

	"groundsheet/tiles/fetch"
)

// TestRefusalInItsOwnWords: what a source says when it does not let us in is
// told, its first line alone, cleaned and cut, and never with the key.
func TestRefusalInItsOwnWords(t *testing.T) {
	t.Setenv("REFUSAL_KEY", "sesame-4711")
	for name, c := range map[string]struct{ kind, page, says string }{
		"plain":        {"text/plain; charset=utf-8", "Key expired on 2026-11-01. Contact GIS office.\nTrace 4711", "answers 403 Forbidden and says “Key expired on 2026-11-01. Contact GIS office.”"},
		"page":         {"text/html", "<html><head><title>x</title></head>\n<body><h1>No\x07 access</h1>\n</body></html>", "says “No access”"},
		"nothing":      {"text/plain", "", "answers 403 Forbidden; "},
		"a picture":    {"image/png", "\x89PNG....", "answers 403 Forbidden; "},
		"long":         {"text/plain", strings.Repeat("é", 300), "says “" + strings.Repeat("é", 200) + "…”"},
		"the key":      {"application/json", `{"error": "key sesame-4711 is not known"}`, "is not known"},
		"the key bold": {"text/html", "key sesame<b></b>-4711 is not known", "is not known"},
	} {
		t.Run(name, func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, _ *http.Request) {
				w.Header().Set("Content-Type", c.kind)
				w.WriteHeader(http.StatusForbidden)
				w.Write([]byte(c.page))
			})
			src := h.fast()
			src.KeyEnv = "REFUSAL_KEY"
			src.URL += "?key={key}"
			_, err := run(src, shelf(t), row(1), quick())
			stoppedFor(t, err, fetch.StopRejected)
			if !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "sesame-4711") {
				t.Errorf("%v", err)
			}
		})
	}
}
