package geojson

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// antimeridianSlack keeps an edge of just 180 degrees legal after rounding to
// the nine decimals of [Write].
const antimeridianSlack = 1e-8

// pair is one position of the text. Its error is kept until its place is known.
type pair struct {
	point  orb.Point
	rule   *fault.Kind
	detail string
}

// parse takes the first two numbers of an array. raw is valid JSON.
func (p *pair) parse(raw []byte) {
	raw = bytes.TrimSpace(raw)
	if len(raw) == 0 || raw[0] != '[' {
		p.rule, p.detail = RulePosition, "a position is "+sort(raw)+", not an array of numbers"
		return
	}
	rest := raw[1:]
	for i := range p.point {
		rest = bytes.TrimLeft(rest, " \t\r\n,")
		if rest[0] == ']' {
			p.rule, p.detail = RulePosition, fmt.Sprintf("a position of %d numbers", i)
			return
		}
		end := bytes.IndexAny(rest, " \t\r\n,]")
		if c := rest[0]; c != '-' && (c < '0' || c > '9') {
			p.rule, p.detail = RuleNumber, "a coordinate is "+sort(rest)+", not a number"
			return
		}
		v, err := strconv.ParseFloat(string(rest[:end]), 64)
		if err != nil {
			p.rule, p.detail = RuleNumber, fmt.Sprintf("the number %.40s is too large", rest[:end])
			return
		}
		p.point[i], rest = v, rest[end:]
	}
}

// checkPoint checks the next position of the text.
func (r *reader) checkPoint(p orb.Point) *fault.Fault {
	lon, lat := p[0], p[1]
	r.positions++
	bad, unreadable := r.unreadable[r.positions]
	switch {
	case r.positions > MaxPositions:
		return refuse(RuleSize, "", fmt.Sprintf("more than %d positions", MaxPositions),
			"simplify the shapes or split the file")
	case unreadable:
		return refuse(bad.rule, "", bad.detail, "a position is an array of two numbers, longitude and latitude")
	case !(math.Abs(lon) <= math.MaxFloat64 && math.Abs(lat) <= math.MaxFloat64):
		return refuse(RuleNumber, "", fmt.Sprintf("position %v, %v is not of finite numbers", lon, lat),
			"export the shapes again")
	case math.Abs(lon) > 360 || math.Abs(lat) > 360:
		rule := RuleLongitude
		if math.Abs(lon) <= 180 {
			rule = RuleLatitude
		}
		return refuse(rule, "", fmt.Sprintf("position %v, %v is not in degrees", lon, lat),
			"the numbers look like meters or feet: export as WGS 84 longitude and latitude")
	case math.Abs(lat) > 90 && math.Abs(lon) <= 90:
		return refuse(RuleLatitude, "", fmt.Sprintf("latitude %v is impossible", lat),
			"are latitude and longitude swapped? longitude comes first")
	case math.Abs(lat) > 90:
		return refuse(RuleLatitude, "", fmt.Sprintf("latitude %v is impossible", lat), "latitude is -90 to 90 degrees")
	case math.Abs(lon) > 180:
		return refuse(RuleLongitude, "", fmt.Sprintf("longitude %v is beyond ±180", lon),
			"longitude is -180 to 180 degrees; cut shapes at the antimeridian")
	}
	return nil
}

// checkEdges refuses an edge that spans more than half the world: it crosses
// the antimeridian and would be drawn across the whole map.
func checkEdges[L ~[]orb.Point](line L) *fault.Fault {
	for i := 1; i < len(line); i++ {
		if d := math.Abs(line[i][0] - line[i-1][0]); d > 180+antimeridianSlack {
			return refuse(RuleAntimeridian, fmt.Sprintf("position %d", i+1),
				fmt.Sprintf("the edge to here spans %.6g degrees of longitude", d),
				"split the shape in two at longitude 180 (RFC 7946, 3.1.9)")
		}
	}
	return nil
}
