package overlay

import "slices"

// Depth is the depth of a line at a place, with what it rests on.
type Depth struct {
	M     *float64 `json:"m"`     // metres; nil = unknown
	Basis string   `json:"basis"` // "reading", "between readings", "record", "unknown"
	GapM  float64  `json:"gap_m"` // between the two readings, for "between readings"
}

// atReading is how near a reading has to be for its depth to be taken as it
// stands, in metres.
const atReading = 0.05

// DepthAt is the depth at a station in metres: at a reading as read, between
// two readings at most gap metres apart in proportion, else as recorded for
// the whole line, else unknown. It is never carried on beyond the last reading
// and never over a reading without a depth.
func (l Line) DepthAt(station, gap float64) Depth {
	i, _ := slices.BinarySearchFunc(l.Stations, station, func(s Station, at float64) int {
		if s.AtM < at {
			return -1
		}
		return 1
	})
	for _, j := range []int{i - 1, i} { // the readings before and after
		if j >= 0 && j < len(l.Stations) && l.Stations[j].DepthM != nil && abs(l.Stations[j].AtM-station) <= atReading {
			return Depth{l.Stations[j].DepthM, "reading", 0}
		}
	}
	if i > 0 && i < len(l.Stations) {
		a, b := l.Stations[i-1], l.Stations[i]
		if apart := b.AtM - a.AtM; a.DepthM != nil && b.DepthM != nil && apart > 0 && apart <= gap {
			m := *a.DepthM + (*b.DepthM-*a.DepthM)*(station-a.AtM)/apart
			return Depth{&m, "between readings", apart}
		}
	}
	if l.DepthM != nil {
		return Depth{l.DepthM, "record", 0}
	}
	return Depth{nil, "unknown", 0}
}

func abs(v float64) float64 { return max(v, -v) }
