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

var useShare = [4]float64{homes: 0.72, trade: 0.1, park: 0.1, vacant: 0.08}

// mesh is one mesh of the street grid: a block in town, or open country.
type mesh struct {
	west, north float64 // its corner, in meters
	town        bool
	use         use
	roads       [4]float64 // half the width of the roads on its north, south, west and east side; 0 = none
	creek       bool       // a creek may run through
	lots        []lot      // in town from zoom housesFrom on: those of the north side, then those of the south
}

// lot is a part of a block: what lies flat on it and what stands on it.
type lot struct{ flat, standing []box }

// lotEdge is the distance from the middle of a cross street to the first lot,
// in meters.
const lotEdge = 10

// lotAt is the lot at a place in the mesh; nil where there is none.
func (m *mesh) lotAt(p point) *lot {
	n := len(m.lots) / 2
	if n == 0 {
		return nil
	}
	i := int((p.x - m.west - lotEdge) / (block - 2*lotEdge) * float64(n))
	i = min(max(i, 0), n-1)
	if p.y-m.north > block/2 {
		i += n
	}
	return &m.lots[i]
}

// Half the width of a street and of a main road, in meters.
const (
	halfStreet = 4.4
	halfMain   = 6.2
)

// Every fourth line of the grid is a main road and runs through the country
// too; a street has a town on at least one side.
func (l *land) mesh(col, row int) mesh {
	town := func(col, row int) bool { return l.builtUp(float64(col)+0.5, float64(row)+0.5) > 0.5 }
	m := mesh{west: float64(col) * block, north: float64(row) * block, town: town(col, row)}
	for i, n := range [4][3]int{{col, row - 1, row}, {col, row + 1, row + 1}, {col - 1, row, col},
		{col + 1, row, col + 1}} {
		switch {
		case n[2]&3 == 0:
			m.roads[i] = halfMain
		case m.town || town(n[0], n[1]):
			m.roads[i] = halfStreet
		}
	}
	creek, _ := creekAt(point{m.west + block/2, m.north + block/2})
	m.creek = creek < 1.3*block
	d := roll(seedBlock, col, row, 1<<blockZoom)
	chance := d.next()
	for m.use = homes; m.use < vacant && chance >= useShare[m.use]; m.use++ {
		chance -= useShare[m.use]
	}
	if m.town && l.zoom >= housesFrom && m.use != vacant {
		n := 4 + int(d.next()*2)
		for i := range 2 * n {
			m.lots = append(m.lots, m.newLot(i, n, dice(mix(uint64(d)+uint64(i)))))
		}
	}
	return m
}

// newLot lays out lot i of the n on each side of a block.
func (m *mesh) newLot(i, n int, d dice) lot {
	wide := (block - 2*lotEdge) / float64(n)
	b := &plot{middle: m.west + lotEdge + (float64(i%n)+0.5)*wide, front: m.north, inward: 1, wide: wide, dice: d}
	if i >= n {
		b.front, b.inward = m.north+block, -1
	}
	creek, _ := creekAt(point{b.middle, b.front + 25*b.inward})
	switch {
	case m.use == park:
		b.flat(0, 30, wide/2, 1.1, gravel)
	case creek < 40:
	case m.use == homes:
		b.home()
	case i < n:
		b.shop()
	default:
		b.carPark()
	}
	return b.lot
}

// Colors of roads and what lies beside them.
var (
	footway  = rgb{158, 155, 147}
	kerb     = rgb{172, 169, 161}
	asphalt  = rgb{112, 112, 111}
	gravel   = rgb{150, 142, 125}
	yellow   = rgb{196, 172, 104}
	white    = rgb{205, 204, 198}
	concrete = rgb{163, 159, 149}
)

// pavement paints the roads round a mesh over a color, layer by layer so that
// crossings come out whole.
func (m *mesh) pavement(col rgb, p point, px, grain float64) rgb {
	x, y := p.x-m.west, p.y-m.north
	across, along := [4]float64{y, block - y, x, block - x}, [4]float64{x, x, y, y}
	if min(across[0], across[1], across[2], across[3]) > halfMain+6+px {
		return col
	}
	layer := func(paint rgb, share func(i int, half float64) float64) {
		for i, half := range m.roads {
			if half > 0 && across[i] < half+6+px {
				col = col.toward(paint, share(i, half))
			}
		}
	}
	if m.town {
		layer(footway.times(1+0.3*grain),
			func(i int, half float64) float64 { return 0.85 * strip(across[i]-half-3.2, 0.8, px) })
		layer(kerb.times(1+0.3*grain), func(i int, half float64) float64 { return strip(across[i], half+0.3, px) })
	}
	layer(asphalt.times(1+0.45*grain), func(i int, half float64) float64 { return strip(across[i], half, px) })
	if px > 1.3 {
		return col
	}
	const dash, clear = 9.0, 10.0 // meters from dash to dash; kept free at crossings
	layer(yellow, func(i int, half float64) float64 {
		if half < halfMain && math.Mod(along[i], dash) > 3 || min(along[i], block-along[i]) < clear {
			return 0
		}
		return 0.85 * strip(across[i], 0.08, px)
	})
	return col
}
