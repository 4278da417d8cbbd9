package mvt

import (
	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"
)

// The types of geometry and the commands (specification, 4.3.3 and 4.3.4).
const (
	typePoint, typeLine, typePolygon = 1, 2, 3
	moveTo, lineTo, closePath        = 1, 2, 7
)

// path is one run of positions.
type path struct {
	points []orb.Point
	closed bool
}

// geometry reads the commands of a feature.
func (d *decoder) geometry(kind uint64, commands []uint64, extent float64) (orb.Geometry, error) {
	paths, err := d.paths(commands, extent)
	if err != nil {
		return nil, err
	}
	switch kind {
	case typePoint:
		var points orb.MultiPoint
		for _, p := range paths {
			points = append(points, p.points...)
		}
		return points, nil
	case typeLine:
		var lines orb.MultiLineString
		for _, p := range paths {
			if len(p.points) > 1 {
				lines = append(lines, p.points)
			}
		}
		return lines, nil
	case typePolygon:
		return polygons(paths), nil
	}
	return nil, nil // UNKNOWN: a reader may pass it over
}

// paths follows the commands.
func (d *decoder) paths(commands []uint64, extent float64) (all []path, err error) {
	var x, y int64
	for i := 0; i < len(commands); {
		id, count := commands[i]&7, commands[i]>>3
		i++
		if id == closePath {
			if len(all) == 0 || count != 1 {
				return nil, broken("a ring ends that did not begin")
			}
			all[len(all)-1].closed = true
			continue
		}
		if id != moveTo && id != lineTo || id == lineTo && len(all) == 0 || count > uint64(len(commands)-i)/2 {
			return nil, broken("its geometry does not hold what it says")
		}
		if d.positions += int(count); d.positions > mostPositions {
			return nil, broken("it has more than %d positions", mostPositions)
		}
		for range count {
			x += protowire.DecodeZigZag(commands[i] & 0xffffffff)
			y += protowire.DecodeZigZag(commands[i+1] & 0xffffffff)
			i += 2
			p := orb.Point{float64(x) / extent, float64(y) / extent}
			if id == moveTo {
				all = append(all, path{points: []orb.Point{p}})
			} else {
				last := &all[len(all)-1]
				last.points = append(last.points, p)
			}
		}
	}
	return all, nil
}

// polygons sorts rings: one that runs as the first does is an outer ring, and those
// that run the other way are holes in the one before them (4.3.4.4).
func polygons(paths []path) (all orb.MultiPolygon) {
	sign := 0.0
	for _, p := range paths {
		if len(p.points) < 3 {
			continue
		}
		ring := append(orb.Ring(p.points), p.points[0])
		area := areaOf(ring)
		switch {
		case area == 0:
		case sign == 0 || area*sign > 0:
			sign = area
			all = append(all, orb.Polygon{ring})
		default:
			all[len(all)-1] = append(all[len(all)-1], ring)
		}
	}
	return all
}

func areaOf(ring orb.Ring) (sum float64) {
	for i := 1; i < len(ring); i++ {
		sum += ring[i-1][0]*ring[i][1] - ring[i][0]*ring[i-1][1]
	}
	return sum
}
