package fieldbook

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

func TestRefusedTexts(t *testing.T) {
	good := reading("one")
	for name, text := range map[string][]byte{
		"empty":       nil,
		"array":       []byte("[]"),
		"cut":         good.text(t)[:100],
		"more":        append(good.text(t), " {}"...),
		"twice":       bytes.Replace(good.text(t), []byte(`"layout"`), []byte(`"id":"`+idOf("x")+`","layout"`), 1),
		"bytes":       bytes.Replace(good.text(t), []byte("Ada"), []byte("\xff"), 1),
		"no number":   bytes.Replace(good.text(t), []byte("1.02"), []byte("NaN"), 1),
		"infinite":    bytes.Replace(good.text(t), []byte("1.02"), []byte("1e999"), 1),
		"deep":        bytes.Replace(good.text(t), []byte("1.02"), []byte(strings.Repeat("[", 50)+strings.Repeat("]", 50)), 1),
		"long":        good.with(".note", strings.Repeat("x", MaxText)).text(t),
		"case":        bytes.Replace(good.text(t), []byte(`"id"`), []byte(`"ID"`), 1),
		"layout":      good.with("layout", 2).text(t),
		"id":          good.with("id", "x").text(t),
		"no phone":    good.with("phone", nil).text(t),
		"first":       good.with("after", []string{idOf("x")}).text(t),
		"after":       good.with("mark", idOf("x")).text(t),
		"itself":      good.with("mark", idOf("x")).with("after", []string{idOf("one")}).text(t),
		"no why":      good.then("two", Strike, good).with("why", "").text(t),
		"clock":       good.with("clock", "noon").text(t),
		"ahead":       good.with("clock_ahead_s", 1e300).text(t),
		"kind":        good.with(".kind", "wish").text(t),
		"utility":     good.with(".utility", "beer").text(t),
		"depth":       good.with(".depth_m", -1).text(t),
		"deep ground": good.with(".depth_m", 101).text(t),
		"depth text":  good.with(".depth_m", "1").text(t),
		"line":        good.with(".line", "a").text(t),
		"level":       good.with(".quality_level", "E").text(t),
		"raised":      good.with(".quality_level", "A").text(t),
		"paint":       good.with(".method", "Paint marks").text(t),
		"told":        good.with(".method", "told by somebody").with(".quality_level", "C").text(t),
		"seen":        good.with(".kind", "surface feature").text(t),
		"blank":       good.with(".utility", "water ").text(t),
		"kind blank":  good.with(".kind", " reading").text(t),
		"list":        good.with(".kind", []string{"reading"}).text(t),
		"photo":       good.with(".photos", []any{map[string]any{"hash": "x"}}).text(t),
		"svg":         good.with(".photos", []any{map[string]any{"hash": hashOf(nil), "type": "image/svg+xml", "bytes": 5}}).text(t),
		"position":    good.with(".position", map[string]any{"from": "dream"}).text(t),
		"no place":    good.with("feature", map[string]any{"type": "Feature", "geometry": nil, "properties": map[string]any{"kind": "reading", "utility": "gas"}}).text(t),
		"nothing":     good.with("feature", nil).text(t),
		"world":       bytes.Replace(good.text(t), []byte("-105.0005"), []byte("-205.0005"), 1),
	} {
		if _, err := Parse(text); err == nil {
			t.Errorf("%s: taken: %s", name, text)
		}
	}
	for name, e := range map[string]entry{
		"as it is": good, "later": good.then("two", Strike, good), "restored": good.then("two", Restore, good),
		"test hole":   good.with(".kind", "test hole").with(".quality_level", "A"),
		"painted":     good.with(".method", "paint").with(".quality_level", "D"),
		"no clock":    good.with("clock_ahead_s", nil),
		"unknown":     good.with("hat", "red"),
		"script":      good.with(".note", `<script>alert(1)</script>`),
		"unlocatable": good.with("feature", map[string]any{"type": "Feature", "geometry": nil, "properties": map[string]any{"kind": "unlocatable", "utility": "gas", "reason": "no signal"}}),
	} {
		if _, err := Parse(e.text(t)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestFarFromTheMap(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{Area: orb.Bound{Min: orb.Point{-104.5, 40}, Max: orb.Point{-104.49, 40.01}}})
	near := reading("near")
	near["feature"].(map[string]any)["geometry"] = map[string]any{"type": "Point", "coordinates": []float64{-105, 40}}
	swapped := reading("swapped")
	swapped["feature"].(map[string]any)["geometry"] = map[string]any{"type": "Point", "coordinates": []float64{40, -89}}
	if r := appended(t, b, near, swapped); r[0].Refused != "" || !strings.Contains(r[1].Refused, "50 km") {
		t.Errorf("%+v", r)
	}
}
