//go:build outside

package area

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/paulmach/orb/maptile/tilecover"

	"groundsheet/tiles"
)

// The tests in this file need node and the npm packages of testdata/reference,
// installed there by npm ci.

// node runs a script of testdata/reference with a question and reads its answer.
func node(t *testing.T, answer any, question any, args ...string) {
	t.Helper()
	in, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command("node", args...)
	c.Dir = filepath.Join("..", "..", "testdata", "reference")
	c.Stdin = bytes.NewReader(in)
	var complaint bytes.Buffer
	c.Stderr = &complaint
	out, err := c.Output()
	if err != nil {
		t.Fatalf("node %v: %v: %s; are its packages installed (npm ci in testdata/reference)?", args, err, complaint.String())
	}
	if answer == nil {
		return
	}
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatal(err)
	}
}

// sample is a shape to cover at a zoom.
type sample struct {
	name string
	orb.MultiPolygon
	zoom int
}

// orbCover is the cover of github.com/paulmach/orb/maptile/tilecover; problem
// says how it failed. Columns beyond the last are counted and left out.
func orbCover(s sample) (set map[tiles.ID]bool, beyond int, problem string) {
	defer func() {
		if p := recover(); p != nil {
			problem = fmt.Sprint(p)
		}
	}()
	found, err := tilecover.MultiPolygon(s.MultiPolygon, maptile.Zoom(s.zoom))
	if err != nil {
		return nil, 0, err.Error()
	}
	set = map[tiles.ID]bool{}
	for tile := range found {
		if id := (tiles.ID{Z: uint32(tile.Z), X: tile.X, Y: tile.Y}); id.Valid() {
			set[id] = true
		} else {
			beyond++
		}
	}
	return set, beyond, ""
}

// mapboxCovers are the covers of npm @mapbox/tile-cover 3.0.2.
func mapboxCovers(t *testing.T, samples []sample) (sets []map[tiles.ID]bool, beyond []int, problems []string) {
	type shape struct {
		Zoom        int              `json:"zoom"`
		Coordinates orb.MultiPolygon `json:"coordinates"`
	}
	var shapes []shape
	for _, s := range samples {
		shapes = append(shapes, shape{s.zoom, s.MultiPolygon})
	}
	var answer []json.RawMessage
	node(t, &answer, shapes, "cover.mjs")
	if len(answer) != len(samples) {
		t.Fatalf("%d covers of %d shapes", len(answer), len(samples))
	}
	sets, beyond, problems = make([]map[tiles.ID]bool, len(samples)), make([]int, len(samples)), make([]string, len(samples))
	for i, a := range answer {
		var list [][2]float64
		if json.Unmarshal(a, &list) != nil {
			problems[i] = string(a)
			continue
		}
		sets[i] = map[tiles.ID]bool{}
		last := float64(uint32(1)<<samples[i].zoom - 1)
		for _, at := range list {
			if !(at[0] >= 0 && at[0] <= last && at[1] >= 0 && at[1] <= last) {
				beyond[i]++
				continue
			}
			sets[i][tiles.ID{Z: uint32(samples[i].zoom), X: uint32(at[0]), Y: uint32(at[1])}] = true
		}
	}
	return sets, beyond, problems
}

// The classes of difference between our cover and a library's, and who is right.
const (
	seam    = "they have a tile the shape only touches: it lies on the seam, or reaches in by less than the tolerance. Nothing of the ground is lost without it"
	bent    = "an edge straight in longitude and latitude (RFC 7946, 3.1.1) bends on the map; they draw it straight there. Ours is the tile the ground meets"
	wrapped = "the shape ends at longitude 180; tile-cover takes that for -180 and goes round the world. The shape does not"
)

// classOf explains why ours and theirs differ at a tile, from the shape alone;
// "" is an unexplained difference.
func (c *tally) classOf(s sample, id tiles.ID, ours bool) string {
	const most, least = 8e-6, 1e-12
	if c.library == tileCover && s.Bound().Max[0] == 180 {
		return wrapped
	}
	ground, straight := inTile(worldRings(s.MultiPolygon, s.zoom), id), inTile(onMap(s.MultiPolygon, s.zoom), id)
	switch {
	case !ours && ground <= most && straight <= most:
		return seam
	case !ours && ground <= most, ours && ground > least && straight <= most:
		return bent
	}
	return ""
}

const tileCover = "@mapbox/tile-cover"

// tally counts differences by class and fails on one without.
type tally struct {
	t       *testing.T
	library string
	count   map[string]int
	same    int
}

func (c *tally) compare(s sample, ours tiles.Cover, theirs map[tiles.ID]bool) {
	for id := range ours.All() {
		if theirs[id] {
			c.same++
			continue
		}
		c.add(s, id, true)
	}
	for id := range theirs {
		if !ours.Has(id) {
			c.add(s, id, false)
		}
	}
}

func (c *tally) add(s sample, id tiles.ID, ours bool) {
	class := c.classOf(s, id, ours)
	if class == "" {
		c.t.Errorf("%s, %s: tile %v, ours %v, is not explained: %g of it lies inside, %g with edges straight on the map",
			c.library, s.name, id, ours, inTile(worldRings(s.MultiPolygon, s.zoom), id), inTile(onMap(s.MultiPolygon, s.zoom), id))
	}
	c.count[class]++
}

func (c *tally) log() {
	c.t.Logf("%s: %d tiles the same", c.library, c.same)
	for class, n := range c.count {
		c.t.Logf("%s: %d: %s", c.library, n, class)
	}
}

// TestOutsideTileCovers holds the cover against two general-purpose libraries.
func TestOutsideTileCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 2026))
	var samples []sample
	for i := range 3000 {
		zoom := 6 + r.IntN(12)
		samples = append(samples, sample{fmt.Sprint("shape ", i), validShape(r)(math.Ldexp(1, zoom)), zoom})
	}
	samples = append(samples, sample{"county of 5,000 corners", orb.MultiPolygon{county()}, 16}, sample{"the same", orb.MultiPolygon{county()}, 18})
	sets, beyond, problems := mapboxCovers(t, samples)
	byOrb, byMapbox := &tally{t, "orb", map[string]int{}, 0}, &tally{t, tileCover, map[string]int{}, 0}
	for i, s := range samples {
		ours := cover(Area{Polygons: s.MultiPolygon}, s.zoom, 0)
		set, out, problem := orbCover(s)
		if problem != "" || problems[i] != "" {
			t.Errorf("%s: orb %q, tile-cover %q", s.name, problem, problems[i])
			continue
		}
		// At either end of the world they give a column that does not exist.
		b := s.Bound()
		if atEnd := max(b.Max[0], -b.Min[0]) > 180-1e-9; out+beyond[i] > 0 && !atEnd {
			t.Errorf("%s: tiles beyond the world, of a shape that ends at %v: orb %d, tile-cover %d", s.name, b, out, beyond[i])
		}
		byOrb.compare(s, ours, set)
		byMapbox.compare(s, ours, sets[i])
	}
	byOrb.log()
	byMapbox.log()
	if byOrb.same < 50_000 || byMapbox.same < 50_000 {
		t.Error("too few tiles were compared")
	}
}
