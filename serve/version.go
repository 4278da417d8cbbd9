package serve

import "net/http"

// versionHeader names the version of the pack that an answer came from, so
// that a phone never mixes two.
const versionHeader = "Groundsheet-Pack"

// sameVersion says which version answers, and whether it is the one that was
// asked for by ?v=. Another one is gone: 410.
func (p *site) sameVersion(w http.ResponseWriter, r *http.Request) bool {
	w.Header()[versionHeader] = p.version
	if r.URL.RawQuery == "" || r.URL.RawQuery == p.query {
		return true
	}
	if v := r.URL.Query().Get("v"); v == "" || v == p.tag {
		return true
	}
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, "this version of the pack is not served any more: load the map again", http.StatusGone)
	return false
}
