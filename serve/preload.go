package serve

import (
	"net/http"
	"strings"
)

// preload tells a browser, with the page itself, what the page will ask for
// first. Then the answers come while the script is still on its way, and not
// one after the other behind it. Which of several packs is opened, only the
// page knows.
func (s *Server) preload(page http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/" {
			paths := []string{"/packs.json"}
			if all := s.racks.served(); len(all) == 1 {
				for _, doc := range []string{"about.json", "tilejson.json", "area.geojson", "overlays.json"} {
					paths = append(paths, all[0].path(doc))
				}
			}
			w.Header().Set("Link", preloads(paths))
		}
		page.ServeHTTP(w, r)
	})
}

// preloads writes a Link header (RFC 8288). The page's requests are made
// without credentials from elsewhere, which the header has to say.
func preloads(paths []string) string {
	links := make([]string, len(paths))
	for i, p := range paths {
		links[i] = "<" + p + ">; rel=preload; as=fetch; crossorigin=anonymous"
	}
	return strings.Join(links, ", ")
}
