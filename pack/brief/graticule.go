package brief

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// gridStep is the distance of grid lines in degrees, and the decimals that
// write it: about four across the view.
func (v view) gridStep() (degrees float64, decimals int) {
	b := v.ground(0)
	step := roundDown(min(b.Right()-b.Left(), b.Top()-b.Bottom()) / 2.5)
	return step, max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

// half of a cross of the grid, in millimetres.
const crossArm = 2.0

// tickName is the name of a round degree at the edge of a map.
type tickName struct {
	from, to orb.Point // the tick
	at       orb.Point // the text
	text     string
	align    byte
}

// tickNames are the round longitudes along the top and latitudes along the left.
func (v view) tickNames() []tickName {
	step, decimals := v.gridStep()
	b := v.ground(0)
	var all []tickName
	for i := math.Ceil(b.Left() / step); i*step < b.Right(); i++ {
		x := v.paper(orb.Point{i * step, b.Top()})[0]
		if x-v.on.X > 12 && v.on.X+v.on.W-x > 12 {
			all = append(all, tickName{orb.Point{x, v.on.Y}, orb.Point{x, v.on.Y + 2}, orb.Point{x, v.on.Y + 4.6}, degrees(i*step, decimals), 'c'})
		}
	}
	for j := math.Ceil(b.Bottom() / step); j*step < b.Top(); j++ {
		y := v.paper(orb.Point{b.Left(), j * step})[1]
		if y-v.on.Y > 8 && v.on.Y+v.on.H-y > 4 {
			all = append(all, tickName{orb.Point{v.on.X, y}, orb.Point{v.on.X + 2, y}, orb.Point{v.on.X + 2.2, y + 0.9}, degrees(j*step, decimals), 'l'})
		}
	}
	return all
}

// crosses are the places of round degrees on paper, but for those under the names.
func (v view) crosses() (all []orb.Point) {
	step, _ := v.gridStep()
	b := v.ground(0)
	for i := math.Ceil(b.Left() / step); i*step < b.Right(); i++ {
		for j := math.Ceil(b.Bottom() / step); j*step < b.Top(); j++ {
			at := v.paper(orb.Point{i * step, j * step})
			if at[0]-v.on.X < 16 || at[1]-v.on.Y < 8 {
				continue // the names stand there
			}
			all = append(all, at)
		}
	}
	return all
}

// ticks are crosses at round degrees, named at the edges.
func (v view) ticks(c canvas) {
	for _, at := range v.crosses() {
		for _, arm := range [][]orb.Point{{{at[0] - crossArm, at[1]}, {at[0] + crossArm, at[1]}}, {{at[0], at[1] - crossArm}, {at[0], at[1] + crossArm}}} {
			cased(c, arm, pen{colour: black, width: 0.8}, white, 1)
		}
	}
	for _, n := range v.tickNames() {
		c.Stroke([]orb.Point{n.from, n.to}, pen{colour: black, width: 0.8})
		c.Text(n.at, n.text, n.look())
	}
}

func (n tickName) look() lettering { return lettering{size: 6.5, back: white, align: n.align} }

func degrees(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) + "°" }
