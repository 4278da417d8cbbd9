// Package dxf reads and writes the lines, outlines, points and texts of a drawing in the
// ASCII form of DXF (the group codes of its reference, releases R12 to 2018), in
// the drawing's own coordinates. Curves become straight pieces that lie within a
// stated distance of them; blocks are put where they are inserted. What is not read
// is counted, never passed over in silence.
//
// Nothing in a drawing can run, and its size is bounded: the positions that come
// out of it, how deep blocks lie in one another, and a block in itself is refused.
package dxf

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// RuleDrawing is the kind of fault of a drawing that cannot be read.
var RuleDrawing = fault.Input("drawing")

// Limits (the project's own choice, no source).
const (
	mostPositions = 1_000_000 // that come out of a drawing
	mostPairs     = 4_000_000 // of one entity
	mostLayers    = 10_000
	deepestBlock  = 16
)

// Options say how to read.
type Options struct {
	Tolerance float64  // how far a straight piece may lie from its curve, in units of the drawing
	Layers    []string // that are read; nil = all
	// Text makes UTF-8 of a text; codePage is that of the drawing, such as
	// "ANSI_1252", "" for UTF-8.
	Text func(codePage string, raw []byte) string
}

// Entity is one thing drawn.
type Entity struct {
	Layer    string
	Geometry orb.Geometry      // a point, a line, or a polygon for a filled area
	Closed   bool              // the line comes back to its beginning
	Text     string            // of a text
	Block    string            // the block that it came with
	Values   map[string]string // of the block's attributes
	Place    string            // in the file
}

// Layer is one layer with what is drawn on it.
type Layer struct {
	Name     string
	Entities int
	Off      bool // switched off or frozen in the drawing
}

// Drawing is what was read.
type Drawing struct {
	Units    int // $INSUNITS: 1 inches, 2 feet, 4 millimeters, 5 centimeters, 6 meters, 21 US survey feet; 0 = not stated
	Layers   []Layer
	Entities []Entity
	LeftOut  map[string]int // what is not read, by its name
}

type reader struct {
	Options
	*pairs
	out       Drawing
	codePage  string
	blocks    map[string]*block
	counts    map[string]int // of entities by layer
	order     []string
	off       map[string]bool
	positions int
	drawn     int // entities, also those on layers that are not read
}

func refuse(place, detail, remedy string) error {
	return &fault.Fault{Kind: RuleDrawing, Place: place, Detail: detail, Remedy: remedy}
}

const saveAgain = "save the drawing as ASCII DXF again"

// Read reads a drawing.
func Read(data []byte, o Options) (Drawing, error) {
	if bytes.HasPrefix(data, []byte("AutoCAD Binary DXF")) {
		return Drawing{}, refuse("file", "it is a binary DXF", "save the drawing as ASCII DXF")
	}
	r := &reader{Options: o, pairs: newPairs(data), blocks: map[string]*block{}, counts: map[string]int{}, off: map[string]bool{}}
	r.out.LeftOut = map[string]int{}
	if err := r.sections(); err != nil {
		return Drawing{}, err
	}
	for _, name := range r.order {
		r.out.Layers = append(r.out.Layers, Layer{name, r.counts[name], r.off[strings.ToUpper(name)]})
	}
	return r.out, nil
}

// sections walks through the file. What a section holds beyond the known ones is
// not looked at.
func (r *reader) sections() error {
	found := false
	for section := ""; ; {
		e, err := r.next()
		switch {
		case err != nil:
			return err
		case e == nil && found:
			return refuse(r.place(), "the drawing ends before its EOF: it is cut off", "copy or save it again")
		case e == nil:
			return refuse("file", "it is no DXF: no section of entities in it", saveAgain)
		case e.kind == "EOF":
			if !found {
				return refuse("file", "no section of entities in it", saveAgain)
			}
			return nil
		case e.kind == "SECTION":
			if section = e.text(2); section == "HEADER" {
				r.header(e)
			}
			found = found || section == "ENTITIES"
		case e.kind == "ENDSEC":
			section = ""
		case section == "TABLES" && e.kind == "LAYER":
			const frozen = 1
			if e.whole(62) < 0 || e.whole(70)&frozen != 0 {
				r.off[strings.ToUpper(r.decoded(e.text(2)))] = true
			}
		case section == "BLOCKS" && e.kind == "BLOCK":
			err = r.block(e)
		case section == "ENTITIES":
			err = r.entity(e)
		}
		if err != nil {
			return err
		}
	}
}

// header takes the variables that matter.
func (r *reader) header(e *record) {
	version := ""
	for i, p := range e.pairs[:max(0, len(e.pairs)-1)] {
		if p.code != 9 {
			continue
		}
		switch value := e.pairs[i+1].value; p.value {
		case "$ACADVER":
			version = value
		case "$DWGCODEPAGE":
			r.codePage = value
		case "$INSUNITS":
			r.out.Units = whole(value)
		}
	}
	if version >= "AC1021" { // release 2007: text is UTF-8
		r.codePage = ""
	}
}

// entity draws one entity of the model.
func (r *reader) entity(e *record) error {
	p, err := r.primitive(e)
	if err != nil || p == nil {
		return err
	}
	return r.draw(p, place{scale: 1, matrix: identity, layer: p.layer}, nil)
}

// count keeps the number of entities of a layer.
func (r *reader) count(layer string) error {
	if r.counts[layer]++; r.counts[layer] == 1 {
		if r.order = append(r.order, layer); len(r.order) > mostLayers {
			return refuse(r.place(), fmt.Sprintf("more than %d layers", mostLayers), "save the layers that are needed")
		}
	}
	return nil
}

// wanted says whether a layer is read.
func (r *reader) wanted(layer string) bool {
	if r.Layers == nil {
		return true
	}
	for _, name := range r.Layers {
		if strings.EqualFold(name, layer) {
			return true
		}
	}
	return false
}
