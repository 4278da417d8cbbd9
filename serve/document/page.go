package document

import (
	"io/fs"
	"net/http"
	"strings"

	"groundsheet/serve/web"
)

// Page reads the files of the page once and serves them from memory.
func Page(files fs.FS) (http.Handler, error) {
	assets := map[string]Asset{}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		assets["/"+name] = NewAsset(web.MediaOf(name), body)
		return nil
	})
	if err != nil {
		return nil, err
	}
	assets["/"] = assets["/index.html"]
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, ok := assets[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		a.ServeHTTP(w, r)
	}), nil
}

// SetPreload has a browser fetch, with the page itself, what its script will ask for
// first (RFC 8288): the list of packs, and the documents of the pack at an address;
// nil = of none.
func SetPreload(h http.Header, at *Address) {
	paths := []string{"/packs.json"}
	if at != nil {
		for _, name := range []string{"about.json", "tilejson.json", "area.geojson", "overlays.json"} {
			paths = append(paths, at.Path(name))
		}
	}
	for i, path := range paths { // crossorigin: the page's requests carry no credentials of other origins
		paths[i] = "<" + path + ">; rel=preload; as=fetch; crossorigin=anonymous"
	}
	h.Set("Link", strings.Join(paths, ", "))
}
