package serve

import (
	"net/http"
	"strings"
	"testing"
)

// TestVersions: every answer of a pack names its version, the list of packs
// the same one; an address with another version is gone, and not kept.
func TestVersions(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	listed := documentAt(t, h.URL+"/packs.json")["packs"].([]any)[0].(map[string]any)["version"].(string)
	if listed == "" {
		t.Fatal("the list of packs names no version")
	}
	tile := "tiles/" + deepest17.String() + ".png"
	for _, path := range []string{"about.json", "overlays.json", "area.geojson", "tilejson.json", tile, tile + "?v=" + listed, "tiles/17/5/5.png"} {
		resp, _ := get(t, h.URL+"/packs/site-one/"+path)
		if got := resp.Header.Get(versionHeader); got != listed || resp.StatusCode >= 300 {
			t.Errorf("%s: %s, version %q, the list says %q", path, resp.Status, got, listed)
		}
	}
	for _, v := range []string{"1", listed + "0", "%00"} {
		resp, body := get(t, h.URL+"/packs/site-one/"+tile+"?v="+v)
		if resp.StatusCode != http.StatusGone || resp.Header.Get("Cache-Control") != "no-store" || !strings.Contains(string(body), "load the map again") {
			t.Errorf("v=%s: %s %v %s", v, resp.Status, resp.Header, body)
		}
	}
}
