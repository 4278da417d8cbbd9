package serve

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

func keepListAt(t *testing.T, url, id string) (l keepList) {
	t.Helper()
	resp, body := get(t, url+"/packs/"+id+"/keep.json")
	if err := json.Unmarshal(body, &l); err != nil || resp.StatusCode != 200 || resp.Header.Get("Groundsheet-Pack") != l.Version {
		t.Fatalf("%s %v %s", resp.Status, err, body)
	}
	return l
}

// TestKeepListIsWhole: what a phone keeps by the list is every tile of the pack, proved by
// its hash, what the server renders around it, and every document.
func TestKeepListIsWhole(t *testing.T) {
	hole := tiles.ID{Z: 16, X: corner16.X + 1, Y: corner16.Y + 2}
	path := block{wide: 5, high: 4, kind: raster.PNG, out: map[tiles.ID]bool{hole: true}, copies: source.CopiesAllowed}.write(t)
	h := start(t, path)
	l := keepListAt(t, h.URL, "block")
	proved, renderedTiles, bytes := map[tiles.ID]bool{}, map[int]int{}, int64(0)
	for _, span := range l.Spans {
		for i := 0; i < len(span.Marks); i += markLength {
			id := tiles.ID{Z: uint32(span.Zoom), X: span.First + uint32(i/markLength), Y: span.Row}
			url := h.URL + strings.NewReplacer("{z}", fmt.Sprint(id.Z), "{x}", fmt.Sprint(id.X), "{y}", fmt.Sprint(id.Y)).Replace(l.Tiles)
			resp, body := get(t, url)
			mark := span.Marks[i : i+markLength]
			sum := sha256.Sum256(body)
			switch {
			case mark == rendered:
				renderedTiles[span.Zoom]++
			case resp.StatusCode == http.StatusOK && hex.EncodeToString(sum[:])[:markLength] == mark && !proved[id]:
				proved[id] = true
				bytes += int64(len(body))
			default:
				t.Errorf("tile %v: %s, mark %s", id, resp.Status, mark)
			}
		}
	}
	if len(proved) != 5*4-1 || proved[hole] || renderedTiles[16] != 1 || renderedTiles[15] == 0 || l.Count != len(proved)+renderedTiles[16]+renderedTiles[15]+renderedTiles[14] {
		t.Errorf("%d proved, rendered %v, count %d", len(proved), renderedTiles, l.Count)
	}
	if l.Bytes != bytes {
		t.Errorf("%d bytes are told, the tiles have %d", l.Bytes, bytes)
	}
	for _, want := range []string{"about.json", "tilejson.json", "area.geojson", "overlays.json", "known.geojson"} {
		if !slices.Contains(l.Documents, "/packs/block/"+want) {
			t.Errorf("%s is not listed: %q", want, l.Documents)
		}
	}
	for _, path := range l.Documents {
		if resp, _ := get(t, h.URL+path); resp.StatusCode != 200 || resp.Header.Get("Groundsheet-Pack") != l.Version {
			t.Errorf("%s: %s, version %q", path, resp.Status, resp.Header.Get("Groundsheet-Pack"))
		}
	}
}

// TestKeepListOnlyByTheTerms: where copies are not stated to be allowed nothing is listed.
func TestKeepListOnlyByTheTerms(t *testing.T) {
	for _, copies := range []string{"", source.CopiesForbidden, "perhaps"} {
		l := keepListAt(t, start(t, block{wide: 2, high: 2, kind: raster.PNG, copies: copies}.write(t)).URL, "block")
		if l.Copies != copies || l.Count != 0 || l.Tiles != "" || len(l.Spans)+len(l.Documents) != 0 {
			t.Errorf("%q: %+v", copies, l)
		}
	}
}

// TestKeepListOfLargeRecords: records in vector tiles are named, with the document that holds them whole.
func TestKeepListOfLargeRecords(t *testing.T) {
	docs := keepListAt(t, start(t, makeLargePack(t, 1500)).URL, "a")
	if len(docs.Large) == 0 {
		t.Fatal("none is named")
	}
	for _, part := range docs.Large {
		if !strings.Contains(part.Tiles, "{z}/{x}/{y}.mvt?v=") || !strings.HasSuffix(part.TileJSON, "/tilejson.json") || !slices.Contains(docs.Documents, part.Whole) {
			t.Errorf("%+v", part)
		}
	}
}
