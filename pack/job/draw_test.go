package job

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/vector"
)

const drawnOn = `# by hand
name = "Elm St"   # as on the ticket
area = ["dig-area.geojson"]
margin = "50ft"

# the valve
[[around]]
center = "13TDE9894529136"
radius = "80ft"

[[around]]
center = "40.5,-140.5"
radius = "10m"

[[along]]
file = "route.geojson"
width = "60ft"   # both sides

[[box]]
from = "40.5,-140.5"
to = "40.501,-140.499"

[[base]]
source = "practice"
`

const (
	handedOver = `{"type":"Feature","properties":{"name":"Pit","by":"Ann"},"geometry":{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.5]]]}}`
	routed     = `{"type":"LineString","coordinates":[[-140.5,40.5],[-140.499,40.5],[-140.498,40.502]]}`
)

func drawnJob(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{FileName: drawnOn, "dig-area.geojson": handedOver, "route.geojson": routed} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// drawing draws on a job: change gets the shapes that it has.
func drawing(t *testing.T, dir string, change func([]Shape) []Shape, files ...Dropped) error {
	t.Helper()
	j, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	all, _, err := j.Shapes()
	if err != nil {
		t.Fatal(err)
	}
	return Draw(dir, "a test", Drawing{change(all), files}, func() error { return nil })
}

func textOf(t *testing.T, dir, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if errors.Is(err, os.ErrNotExist) {
		return ""
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func triangle(lat float64) Shape {
	return Shape{Kind: "polygon", Rings: orb.Polygon{{{-140.5, lat}, {-140.499, lat}, {-140.499, lat + 0.001}, {-140.5, lat}}}}
}

// TestDraw: what is drawn goes where a person would write it, and what was not touched
// stays as it is.
func TestDraw(t *testing.T) {
	less := func(from string) func([]Shape) []Shape {
		return func(all []Shape) (out []Shape) {
			for _, s := range all {
				if s.From != from {
					out = append(out, s)
				}
			}
			return out
		}
	}
	with := func(more ...Shape) func([]Shape) []Shape {
		return func(all []Shape) []Shape { return append(all, more...) }
	}
	of := func(from string, change func(*Shape)) func([]Shape) []Shape {
		return func(all []Shape) []Shape {
			for i := range all {
				if all[i].From == from {
					change(&all[i])
				}
			}
			return all
		}
	}
	dropped := Dropped{File: vector.File{Name: "Pit.GEOJSON", Data: []byte(handedOver)}}
	along := Dropped{File: vector.File{Name: "main.json", Data: []byte(routed)}, Along: true}
	fromDrop := func(d Dropped) []Shape {
		all, _, err := ShapesIn(d)
		if err != nil {
			t.Fatal(err)
		}
		all[0].From, all[0].Width = "drop[0]", "20ft"
		return all
	}
	for name, c := range map[string]struct {
		change   func([]Shape) []Shape
		files    []Dropped
		from, to string // what is replaced in job.toml
		file     string // that holds
		says     string
	}{
		"nothing":          {change: with()},
		"a polygon":        {with(triangle(40.6)), nil, `["dig-area.geojson"]`, `["dig-area.geojson", "area.geojson"]`, "area.geojson", `[[[-140.5,40.6],[-140.499,40.6],[-140.499,40.601],[-140.5,40.6]]]`},
		"a corner moved":   {of("area[0]", func(s *Shape) { s.Rings[0][1][0] = -140.4985 }), nil, "dig-area.geojson", "area.geojson", "area.geojson", `[-140.4985,40.5],[-140.499,40.501],[-140.5,40.5]]]},"properties":{"by":"Ann","name":"Pit"}}`},
		"the outline less": {less("area[0]"), nil, "area = [\"dig-area.geojson\"]\n", "", "", ""},
		"a circle less":    {less("around[0]"), nil, "# the valve\n[[around]]\ncenter = \"13TDE9894529136\"\nradius = \"80ft\"\n\n", "", "", ""},
		"a circle moved":   {of("around[1]", func(s *Shape) { s.Center = &orb.Point{-140.4987654, 40.5} }), nil, `"40.5,-140.5"`, `"40.5,-140.4987654"`, "", ""},
		"a circle larger":  {of("around[0]", func(s *Shape) { s.Radius = "90ft" }), nil, "80ft", "90ft", "", ""},
		"one more circle":  {with(Shape{Kind: "circle", Center: &orb.Point{-140.1, 40}, Radius: "9m"}), nil, "radius = \"10m\"\n", "radius = \"10m\"\n\n[[around]]\ncenter = \"40,-140.1\"\nradius = \"9m\"\n", "", ""},
		"a route wider":    {of("along[0]", func(s *Shape) { s.Width = "80ft" }), nil, "60ft", "80ft", "", ""},
		"a route moved":    {of("along[0]", func(s *Shape) { s.Line[0] = orb.Point{-140.51, 40.5} }), nil, "route.geojson", "along.geojson", "along.geojson", `[-140.51,40.5],[-140.499,40.5],[-140.498,40.502]]`},
		"one more route":   {with(Shape{Kind: "route", Width: "20ft", Line: orb.LineString{{-140.5, 40}, {-140.4, 40}}}), nil, "# both sides\n", "# both sides\n\n[[along]]\nfile = \"along.geojson\"\nwidth = \"20ft\"\n", "along.geojson", `[[-140.5,40],[-140.4,40]]`},
		"no route":         {less("along[0]"), nil, "[[along]]\nfile = \"route.geojson\"\nwidth = \"60ft\"   # both sides\n\n", "", "", ""},
		"no box":           {less("box[0]"), nil, "[[box]]\nfrom = \"40.5,-140.5\"\nto = \"40.501,-140.499\"\n\n", "", "", ""},
		"a file as it is":  {with(fromDrop(dropped)...), []Dropped{dropped}, `["dig-area.geojson"]`, `["dig-area.geojson", "dig-area-2.geojson"]`, "dig-area-2.geojson", handedOver},
		"a route as it is": {with(fromDrop(along)...), []Dropped{along}, "# both sides\n", "# both sides\n\n[[along]]\nfile = \"route.json\"\nwidth = \"20ft\"\n", "route.json", routed},
		"a file made smaller": {func(all []Shape) []Shape {
			return append(all, of("drop[0]", func(s *Shape) { s.Rings[0][1][0] = -140.4995 })(fromDrop(dropped))...)
		}, []Dropped{dropped}, `["dig-area.geojson"]`, `["dig-area.geojson", "area.geojson"]`, "area.geojson", `-140.4995`},
	} {
		t.Run(name, func(t *testing.T) {
			dir := drawnJob(t)
			if err := drawing(t, dir, c.change, c.files...); err != nil {
				t.Fatal(err)
			}
			want := strings.Replace(drawnOn, c.from, c.to, 1)
			if got := textOf(t, dir, FileName); got != want {
				t.Errorf("job.toml is now:\n%s", got)
			}
			if c.file != "" && !strings.Contains(textOf(t, dir, c.file), c.says) {
				t.Errorf("%s is now:\n%s", c.file, textOf(t, dir, c.file))
			}
			if textOf(t, dir, "dig-area.geojson") != handedOver || textOf(t, dir, "route.geojson") != routed {
				t.Error("a file that was handed over was changed")
			}
			j, err := Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			if _, _, err := j.ReadArea(); err != nil {
				t.Error(err)
			}
			before, _ := os.ReadDir(dir)
			if err := drawing(t, dir, func(all []Shape) []Shape { return all }); err != nil || textOf(t, dir, FileName) != want {
				t.Errorf("drawn again as it is: %v\n%s", err, textOf(t, dir, FileName))
			}
			if after, _ := os.ReadDir(dir); len(after) != len(before) {
				t.Errorf("files before %v, after %v", before, after)
			}
		})
	}
}

// TestDrawAgain: a file that was drawn is written over where it alone changes; with
// job.toml, another takes its place in one step.
func TestDrawAgain(t *testing.T) {
	dir := drawnJob(t)
	if err := drawing(t, dir, func(all []Shape) []Shape { return append(all, triangle(40.6)) }); err != nil {
		t.Fatal(err)
	}
	text := textOf(t, dir, FileName)
	if err := drawing(t, dir, func(all []Shape) []Shape { return append(all, triangle(40.7)) }); err != nil {
		t.Fatal(err)
	}
	if got := textOf(t, dir, "area.geojson"); textOf(t, dir, FileName) != text || strings.Count(got, "Polygon") != 2 {
		t.Errorf("%s\n%s", textOf(t, dir, FileName), got)
	}
	if err := drawing(t, dir, func(all []Shape) []Shape { return append(all[:len(all)-1], triangle(40.8)) }); err != nil {
		t.Fatal(err)
	}
	if got := textOf(t, dir, "area-2.geojson"); !strings.Contains(textOf(t, dir, FileName), `["dig-area.geojson", "area-2.geojson"]`) ||
		strings.Count(got, "Polygon") != 3 || textOf(t, dir, "area.geojson") != "" || strings.Contains(textOf(t, dir, FileName), "box") {
		t.Errorf("%s\n%s", textOf(t, dir, FileName), got)
	}
}

func TestDrawRefused(t *testing.T) {
	for name, c := range map[string]struct {
		shape Shape
		says  string
	}{
		"crossing itself": {Shape{Kind: "polygon", Rings: orb.Polygon{{{-140.5, 40.5}, {-140.499, 40.501}, {-140.499, 40.5}, {-140.5, 40.501}, {-140.5, 40.5}}}}, "at or near 40.50050, -140.49950"},
		"no width":        {Shape{Kind: "route", Line: orb.LineString{{-140.5, 40}, {-140.4, 40}}}, "width"},
		"no unit":         {Shape{Kind: "circle", Center: &orb.Point{-140, 40}, Radius: "80"}, "80ft"},
		"of nothing":      {Shape{Kind: "polygon", From: "area[7]", Rings: triangle(40).Rings}, "area[7]"},
		"of no kind":      {Shape{Kind: "blob"}, "look at the job again"},
	} {
		dir := drawnJob(t)
		err := drawing(t, dir, func(all []Shape) []Shape { return append(all, c.shape) })
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
		if left, _ := os.ReadDir(dir); len(left) != 3 || textOf(t, dir, FileName) != drawnOn {
			t.Errorf("%s: %v", name, left)
		}
	}
	dir := drawnJob(t)
	changed := errors.New("changed meanwhile")
	if err := Draw(dir, "a test", Drawing{}, func() error { return changed }); !errors.Is(err, changed) || textOf(t, dir, FileName) != drawnOn {
		t.Error(err)
	}
}

func TestNewDrawn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "site")
	draft := Job{Name: "Elm St", Number: "1", Margin: 15.24, Units: "us", Bases: []Base{{Source: "practice", Auto: true}}}
	d := Drawing{Shapes: []Shape{triangle(40.5), {Kind: "route", Width: "60ft", Line: orb.LineString{{-140.5, 40.5}, {-140.49, 40.5}}}, {Kind: "circle", Center: &orb.Point{-140.5, 40.5}, Radius: "80ft"}}}
	j, err := NewDrawn(dir, draft, d)
	if err != nil || len(j.Around) != 1 || len(j.Along) != 1 || fmt.Sprint(j.Area) != "[area.geojson]" {
		t.Fatalf("%+v, %v", j, err)
	}
	text := textOf(t, dir, FileName)
	if a, w, b := strings.Index(text, "[[around]]"), strings.Index(text, "[[along]]"), strings.Index(text, "[[base]]"); a < 0 || w < 0 || a > b || w > b {
		t.Error(text)
	}
	if _, err := NewDrawn(dir, draft, d); !errors.Is(err, Invalid) {
		t.Error(err)
	}
	crossed := Drawing{Shapes: []Shape{{Kind: "polygon", Rings: orb.Polygon{{{0, 0}, {1, 1}, {1, 0}, {0, 1}, {0, 0}}}}}}
	if _, err := NewDrawn(filepath.Join(dir, "two"), draft, crossed); err == nil {
		t.Error("an outline that crosses itself was taken")
	}
	if _, err := os.Stat(filepath.Join(dir, "two")); !errors.Is(err, os.ErrNotExist) {
		t.Error("something is left of it")
	}
}
