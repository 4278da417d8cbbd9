package practice

import "math"

// use is what a block in town is for.
type use int

const (
	homes use = iota
	trade
	park
	vacant
)

// useShares is how often each use occurs; the shares add up to 1.
func useShares() [4]float64 { return [4]float64{homes: 0.72, trade: 0.1, park: 0.1, vacant: 0.08} }

// useOf is the use of the block that lies south-east of a node, and the dice
// for what it holds.
func useOf(col, row int) (use, dice) {
	d := roll(seedBlock, col, row, 1<<blockZoom)
	chance := d.next()
	for kind, share := range useShares() {
		if chance -= share; chance < 0 {
			return use(kind), d
		}
	}
	return vacant, d
}

// frame is one edge of a block: a street with the block on its inner side.
type frame struct {
	line
	inward point
}

func frameOf(a, b point) frame {
	l := lineOf(a, b)
	return frame{l, l.along.left().times(-1)}
}

// at is a place some metres along the edge and some metres inside.
func (f frame) at(along, inside float64) point {
	return f.a.add(f.along.times(along)).add(f.inward.times(inside))
}

// blocks fills every block that may show.
func (s *scene) blocks(g *layout) {
	for i := range g.nodes {
		if i%g.cols == g.cols-1 || i+g.cols >= len(g.nodes) {
			continue
		}
		nw, ne, sw, se := g.nodes[i], g.nodes[i+1], g.nodes[i+g.cols], g.nodes[i+g.cols+1]
		if !g.isTown(i) || !s.sees(nw.to(se, 0.5), block) {
			continue
		}
		use, d := useOf(g.first+i%g.cols, g.top+i/g.cols)
		north, south := frameOf(nw, ne), frameOf(se, sw)
		switch use {
		case homes:
			s.lots(north, dice(mix(uint64(d))))
			s.lots(south, dice(mix(uint64(d)+1)))
		case trade:
			s.shops(north, nw.to(se, 0.5), d)
		case park:
			s.meadow(north, 26, d)
		case vacant:
			s.meadow(north, 7, d)
		}
	}
}

// lots lines one edge of a block with houses.
func (s *scene) lots(f frame, d dice) {
	const corner = 10 // metres to the middle of the cross street
	n := 4 + int(d.next()*2)
	wide := (f.length - 2*corner) / float64(n)
	for k := range n {
		own := dice(mix(uint64(d) + uint64(k)))
		middle := corner + (float64(k)+0.5)*wide
		if s.sees(f.at(middle, 30), 45) && !near(s.creeks, s.view, f.at(middle, 25), 30) {
			s.lot(f, middle, wide, own)
		}
	}
}

// lot is one house with its drive, yard and trees.
func (s *scene) lot(f frame, middle, wide float64, d dice) {
	yard := lawn.toward(dry, float32(d.between(-0.25, 1.1)))
	s.flat(f.at(middle, 32.5), f.along, wide/2-0.2, 24.5, yard, 0.5, 1)
	kinds := [6]rgb{{120, 116, 111}, {124, 107, 93}, {147, 134, 115}, {95, 95, 97}, {137, 104, 87}, {164, 160, 151}}
	h := roof{height: d.between(3.5, 5.5), colour: kinds[int(d.next()*6)], hipped: d.next() < 0.5}
	long, deep := d.between(5.2, min(7.6, wide/2-3)), d.between(4, 5.4)
	front := d.between(14, 18)
	shift := d.between(-1, 1) * max(wide/2-long-3.6, 0)
	sin, cos := math.Sincos(d.between(-0.04, 0.04))
	along := f.along.times(cos).add(f.inward.times(sin))
	h.box = box{f.at(middle+shift, front+deep), along, long, deep}
	s.build(h)
	if d.next() < 0.45 { // a wing to the yard
		w := h
		w.halfLength, w.halfWide, w.along = deep*0.9, long*0.42, f.inward
		w.at = f.at(middle+shift+long*0.4, front+deep*1.9)
		s.build(w)
	}
	side := 1.0
	if d.next() < 0.5 {
		side = -1
	}
	drive := middle + side*(wide/2-2.1)
	end := d.between(front+3, front+9)
	s.flat(f.at(drive, (halfStreet+end)/2), f.inward, (end-halfStreet)/2, 1.5, concrete, 0.95, 0.35)
	s.flat(f.at(middle+shift, (front+8)/2), f.inward, (front-8)/2, 0.6, concrete, 0.9, 0.35)
	if d.next() < 0.6 {
		s.park(f.at(drive, end-d.between(3, 8)), f.inward, d.next())
	}
	s.yard(f, middle, wide, side, d)
}

// yard holds what stands behind and before a house.
func (s *scene) yard(f frame, middle, wide, side float64, d dice) {
	if d.next() < 0.4 {
		at := f.at(middle-side*(wide/2-3), d.between(44, 53))
		s.build(roof{box{at, f.along, 1.8, 1.4}, 2.2, rgb{140, 132, 120}, false, false})
	}
	if d.next() < 0.05 {
		at := f.at(middle, 46)
		s.flat(at, f.along, 4.8, 3.2, concrete, 1, 0.3)
		s.flat(at, f.along, 3.8, 2.1, rgb{98, 146, 158}, 1, 0.1)
	}
	for range int(d.next() * 5) {
		s.tree(f.at(middle+d.between(-0.45, 0.45)*wide, d.between(32, 56)), d.between(1.6, 4.6), dice(mix(uint64(d))))
	}
	if d.next() < 0.5 {
		s.tree(f.at(middle-side*wide*0.3, d.between(9.2, 11)), d.between(1.8, 3.6), dice(mix(uint64(d))))
	}
}

// shops is a block of large flat roofs and a car park.
func (s *scene) shops(f frame, middle point, d dice) {
	if near(s.creeks, s.view, middle, 70) {
		s.meadow(f, 20, d)
		return
	}
	across := f.inward
	s.flat(middle, f.along, 46, 46, rgb{124, 123, 120}, 1, 0.5)
	pale := rgb{176, 174, 168}.toward(rgb{138, 137, 135}, float32(d.next()))
	hall := box{middle.add(across.times(24)), f.along, d.between(30, 42), d.between(12, 18)}
	s.build(roof{hall, d.between(5, 8), pale, true, false})
	for range 5 {
		at := hall.at.add(f.along.times(d.between(-0.8, 0.8) * hall.halfLength)).add(across.times(d.between(-0.7, 0.7) * hall.halfWide))
		s.build(roof{box{at, f.along, d.between(0.8, 1.8), 1}, 1.2, rgb{190, 189, 184}, true, false})
	}
	for row := range 3 {
		inside := -36 + float64(row)*16.0
		for stall := range 28 {
			at := middle.add(f.along.times(-38 + 2.8*float64(stall))).add(across.times(inside))
			s.flat(at.add(f.along.times(1.4)), across, 2.5, 0.07, white, 0.8, 0)
			if chance := d.next(); chance < 0.4 {
				s.park(at, across, chance/0.4)
			}
		}
	}
}

// meadow is open ground with some trees and a path.
func (s *scene) meadow(f frame, trees int, d dice) {
	if trees > 10 {
		path := lineOf(f.at(12, 14), f.at(f.length-14, 100))
		s.flat(path.a.to(path.b, 0.5), path.along, path.length/2, 1.1, gravel, 0.85, 0.8)
	}
	for range trees {
		s.tree(f.at(d.between(12, f.length-12), d.between(13, 104)), d.between(2, 5.4), dice(mix(uint64(d))))
	}
}

// avenue plants trees along a street and parks cars in it.
func (s *scene) avenue(r street) {
	if !r.paved {
		return
	}
	d := r.chance
	for along := 14.0; along < r.length-12; along += 15 {
		for _, hand := range [2]float64{-1, 1} {
			tree, size, parked, chance := d.next() < 0.35, d.between(1.6, 3.4), d.next() < 0.22, d.next()
			off := r.along.left().times(hand)
			at := r.a.add(r.along.times(along))
			if tree {
				s.tree(at.add(off.times(r.half+1.6)), size, dice(mix(uint64(d))))
			}
			if parked && !r.main {
				s.park(at.add(r.along.times(6)).add(off.times(r.half-1.1)), r.along.times(hand), chance)
			}
		}
	}
}
