package dxf

import "math"

// hatch reads the boundary of a filled area: paths of corners, or of lines and
// arcs. It is false for other curves.
func (p *primitive) hatch(e *record) bool {
	at := 0
	find := func(code int) (string, bool) { // the next group of a code
		for ; at < len(e.pairs); at++ {
			if e.pairs[at].code == code {
				at++
				return e.pairs[at-1].value, true
			}
		}
		return "", false
	}
	value := func(code int) float64 {
		text, ok := find(code)
		if !ok {
			return math.NaN()
		}
		return number(text)
	}
	paths, ok := find(91)
	if !ok {
		return false
	}
	p.filled, p.closed = true, true
	for range min(whole(paths), len(e.pairs)) {
		flags, ok := find(92)
		if !ok {
			return false
		}
		const corners = 2
		var path []vertex
		if whole(flags)&corners != 0 {
			bulges := value(72) != 0
			n := int(min(max(value(93), 0), float64(len(e.pairs))))
			for range n {
				v := vertex{x: value(10), y: value(20)}
				if bulges && at < len(e.pairs) && e.pairs[at].code == 42 {
					v.bulge = value(42)
				}
				path = append(path, v)
			}
		} else if path, ok = edges(value); !ok {
			return false
		}
		if len(path) > 1 && path[0].x == path[len(path)-1].x && path[0].y == path[len(path)-1].y {
			path = path[:len(path)-1]
		}
		p.paths = append(p.paths, path)
	}
	return true
}

// edges reads a path of lines and arcs.
func edges(value func(code int) float64) (path []vertex, ok bool) {
	n := value(93)
	if !(n >= 0 && n <= mostPositions) {
		return nil, false
	}
	for range int(n) {
		switch value(72) {
		case 1:
			path = append(path, vertex{x: value(10), y: value(20)})
			value(11) // the end is the beginning of the next
			value(21)
		case 2:
			x, y, radius := value(10), value(20), value(40)
			from, to := value(50)*math.Pi/180, value(51)*math.Pi/180
			sweep := math.Mod(to-from, 2*math.Pi)
			if sweep <= 0 {
				sweep += 2 * math.Pi
			}
			if value(73) == 0 { // clockwise: the angles are mirrored
				from, sweep = -from, -sweep
			}
			path = append(path, arcPath(x, y, radius, from, sweep)...)
		default:
			return nil, false
		}
	}
	return path, true
}
