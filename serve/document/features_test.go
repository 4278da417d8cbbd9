package document

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

func TestDrawable(t *testing.T) {
	point := func(at string) string {
		return `{"type":"Feature","geometry":{"type":"Point","coordinates":` + at + `},"properties":{"depth":"3 ft"}}`
	}
	whole := func(features ...string) string {
		return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
	}
	good := whole(point("[-105,40]"), point("[1,2]"))
	if got, err := Drawable([]byte(good)); err != nil || string(got) != good {
		t.Errorf("a drawable text goes out as it is: %s, %v", got, err)
	}
	for _, bad := range []string{point("[1e308,1e308]"), point("[1e999,2]"), point(`["x"]`), `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[0,0],[1e9,1]]},"properties":null}`, `7`} {
		got, err := Drawable([]byte(whole(point("[1,2]"), bad)))
		var all struct {
			NotDrawn int `json:"not_drawn"`
			Features []any
		}
		if err != nil || json.Unmarshal(got, &all) != nil || all.NotDrawn != 1 || len(all.Features) != 1 {
			t.Errorf("%s: %s, %v", bad, got, err)
		}
	}
	for _, bad := range []string{"", "[]", `{"type":"Topology"}`} {
		if got, err := Drawable([]byte(bad)); err == nil {
			t.Errorf("%q became %s", bad, got)
		}
	}
}

func ExampleDrawable() {
	off := `{"type":"Feature","geometry":{"type":"Point","coordinates":[1000,0]},"properties":null}`
	body, err := Drawable([]byte(`{"type":"FeatureCollection","features":[` + off + `]}`))
	fmt.Println(string(body), err)
	// Output: {"type":"FeatureCollection","not_drawn":1,"features":[]} <nil>
}
