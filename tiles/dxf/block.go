package dxf

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// block is a named drawing that is inserted into others.
type block struct {
	x, y     float64 // its base point
	entities []*primitive
}

// insert says where and how a block is put, and with which attributes.
type insert struct {
	name                string
	x, y, sx, sy, angle float64
	columns, rows       int
	dx, dy              float64
	values              map[string]string
}

// block reads a block up to its end.
func (r *reader) block(e *record) error {
	b := &block{x: e.number(10, 0), y: e.number(20, 0)}
	r.blocks[strings.ToUpper(r.decoded(e.text(2)))] = b
	const overlaid = 4 | 8 // lives in another file
	if e.whole(70)&overlaid != 0 {
		r.out.LeftOut["drawing referred to (XREF)"]++
	}
	for {
		one, err := r.next()
		switch {
		case err != nil:
			return err
		case one == nil:
			return refuse(e.place(), "the drawing ends inside of it: it is cut off", "copy or save it again")
		case one.kind == "ENDBLK":
			return nil
		}
		p, err := r.primitive(one)
		if err != nil {
			return err
		}
		if p != nil {
			b.entities = append(b.entities, p)
		}
	}
}

// insertion reads an INSERT with its ATTRIB entities.
func (r *reader) insertion(e *record) (*insert, error) {
	i := &insert{
		name: strings.ToUpper(r.decoded(e.text(2))), x: e.number(10, 0), y: e.number(20, 0),
		sx: e.number(41, 1), sy: e.number(42, 1), angle: e.number(50, 0) * math.Pi / 180,
		columns: max(1, e.whole(70)), rows: max(1, e.whole(71)), dx: e.number(44, 0), dy: e.number(45, 0),
	}
	if e.whole(66) != 1 {
		return i, nil
	}
	const mostValues = 1000
	i.values = map[string]string{}
	for {
		a, err := r.next()
		switch {
		case err != nil:
			return nil, err
		case a == nil:
			return nil, refuse(e.place(), "the drawing ends inside of it: it is cut off", "copy or save it again")
		case a.kind == "SEQEND":
			return i, nil
		case a.kind == "ATTRIB" && len(i.values) < mostValues:
			if tag := r.decoded(a.text(2)); tag != "" {
				i.values[tag] = r.decoded(plainText(a.text(1)))
			}
		case a.kind != "ATTRIB":
			return nil, refuse(a.place(), "it stands among the attributes of an INSERT that has no end", saveAgain)
		}
	}
}

// place is where an entity of a block comes to lie.
type place struct {
	matrix
	scale  float64 // the largest of its lengths
	layer  string  // of what is on layer "0" of a block
	block  string
	values map[string]string
}

// matrix takes x, y to (a x + b y + c, d x + e y + f).
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, e: 1}

// times is first n, then m.
func (m matrix) times(n matrix) matrix {
	return matrix{
		m.a*n.a + m.b*n.d, m.a*n.b + m.b*n.e, m.a*n.c + m.b*n.f + m.c,
		m.d*n.a + m.e*n.d, m.d*n.b + m.e*n.e, m.d*n.c + m.e*n.f + m.f,
	}
}

// put draws a block where it is inserted. Inside holds the names of the blocks that
// it stands in.
func (r *reader) put(p *primitive, at place, inside []string) error {
	i := p.insert
	b := r.blocks[i.name]
	switch {
	case b == nil:
		r.out.LeftOut["INSERT of a block that is not there"]++
		return nil
	case slices.Contains(inside, i.name):
		return refuse(p.place, fmt.Sprintf("the block %.40q stands in itself", i.name), "break the loop in the drawing, or explode the block")
	case len(inside) == deepestBlock:
		return refuse(p.place, fmt.Sprintf("blocks stand in one another more than %d deep", deepestBlock), "explode them in the drawing")
	}
	inside = append(slices.Clone(inside), i.name)
	sin, cos := math.Sincos(i.angle)
	turn := matrix{a: cos, b: -sin, d: sin, e: cos}
	at.scale *= max(math.Abs(i.sx), math.Abs(i.sy))
	at.block, at.layer = i.name, layerIn(p, at)
	if i.values != nil {
		at.values = i.values
	}
	base := at.matrix
	for row := range i.rows {
		for column := range i.columns {
			if r.positions++; r.positions > mostPositions { // an empty block costs too
				return tooMany(p.place)
			}
			step := matrix{a: i.sx, c: float64(column)*i.dx - i.sx*b.x, e: i.sy, f: float64(row)*i.dy - i.sy*b.y}
			at.matrix = base.times(mirrored(p)).times(matrix{a: 1, c: i.x, e: 1, f: i.y}).times(turn).times(step)
			for _, one := range b.entities {
				if err := r.draw(one, at, inside); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// layerIn is the layer of an entity: what is on layer "0" of a block takes that of
// its insertion.
func layerIn(p *primitive, at place) string {
	if p.layer == "0" && at.layer != "" {
		return at.layer
	}
	return p.layer
}

func mirrored(p *primitive) matrix {
	if p.mirror {
		return matrix{a: -1, e: 1}
	}
	return identity
}
