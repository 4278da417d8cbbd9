package vector

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// worldWidth is the width of the Web Mercator square, in its meters.
const worldWidth = 2 * math.Pi * tiles.EarthRadius

// fromWebMercator turns meters of the Web Mercator sphere (EPSG method 1024)
// into degrees. Positions off the world square are not ok.
func fromWebMercator(p orb.Point) (orb.Point, bool) {
	x, y := p[0]/worldWidth+0.5, 0.5-p[1]/worldWidth
	lon, lat := tiles.Unproject(x, y)
	return orb.Point{lon, lat}, x >= 0 && x <= 1 && y >= 0 && y <= 1
}
