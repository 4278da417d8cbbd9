package position

import (
	"math"
	"slices"
	"time"
)

// epoch collects the sentences about one moment.
type epoch struct {
	clock clock
	began time.Time // arrival of its first sentence
	gga   *gga
	rmc   *rmc
	gst   *gst
	gsa   []gsa
	grown bool // since it was last returned
}

// fix returns what the sentences say together; false if none of them has a
// position.
func (e *epoch) fix(recorded bool) (Fix, bool) {
	if e.gga == nil && e.rmc == nil {
		return Fix{}, false
	}
	f := Fix{Kind: e.kind(), Satellites: -1, Received: e.began, Recorded: recorded}
	f.Time, f.HasDate = e.time()
	if e.gga != nil {
		f.Satellites, f.HDOP, f.Altitude = e.gga.satellites, e.gga.hdop, e.gga.altitude
	}
	for _, a := range e.gsa {
		f.Is2D = f.Is2D || a.dimensions == "2"
		if f.HDOP == 0 {
			f.HDOP = a.hdop
		}
	}
	at := e.coordinates()
	if f.Kind == NoFix || !at.known {
		f.Kind, f.Altitude = NoFix, nil
		return f, true
	}
	f.Lat, f.Lon = at.lat, at.lon
	f.Live = f.Kind.FromSatellites() && !f.Recorded
	if e.gga != nil && f.Kind.Corrected() {
		f.CorrectionAge, f.Station = e.gga.correctionAge, e.gga.station
	}
	e.setError(&f)
	return f, true
}

func (e *epoch) coordinates() coordinates {
	if e.gga != nil && e.gga.at.known {
		return e.gga.at
	}
	if e.rmc != nil && (e.gga == nil || e.gga.kind != NoFix) {
		return e.rmc.at
	}
	return coordinates{}
}

// kind returns the lower one of what GGA and RMC say.
func (e *epoch) kind() FixKind {
	k := Fixed
	if e.gga != nil {
		k = e.gga.kind
	}
	if e.rmc != nil {
		if m := e.rmc.kind(e.gga != nil); m.rank() < k.rank() {
			k = m
		}
	}
	if e.noDimensions() {
		return NoFix
	}
	return k
}

// noDimensions reports whether every GSA of the epoch (one for each satellite
// system) denies a fix.
func (e *epoch) noDimensions() bool {
	return len(e.gsa) > 0 && !slices.ContainsFunc(e.gsa, func(a gsa) bool { return a.dimensions != "1" })
}

// kind returns what RMC says. The mode overrides the status: some receivers send
// A with modes that the standard pairs with V. Old receivers know neither F nor R
// and send A or D instead, so beside a GGA these say nothing against it.
func (m *rmc) kind(besideGGA bool) FixKind {
	if k, ok := map[string]FixKind{"N": NoFix, "S": Simulator, "M": Manual, "E": Estimated}[m.mode]; ok {
		return k
	}
	switch carrier := m.mode == "F" || m.mode == "R"; {
	case !m.valid && !(carrier && besideGGA):
		return NoFix
	case m.mode == "F":
		return Float
	case m.mode == "R" || besideGGA:
		return Fixed
	case m.mode == "" || m.mode == "A" || m.mode == "P":
		return Autonomous
	case m.mode == "D":
		return Differential
	}
	return Unknown
}

// drms95 times √(lat² + lon²) holds 95 % of a normal error or more, whatever
// its shape. The correlation of lat and lon is not stated, so the error may lie along
// one line: then the factor is 1.95996 exactly. Of a circular error, whose
// 95 % lie within 2.4477 sigmas or 1.7308 of the root, it holds 97.9 %.
const drms95 = 1.95996

// Error at 95 % in meters for each unit of HDOP, without corrections and with code
// corrections. Both are cautious assumptions after common practice, so circles made of
// them are called estimated.
const hdopMeters, correctedMeters = 15, 3.75

// setError sets the radius that holds 95 %. The geometry of the satellites says
// nothing about carrier positions, nor about those without satellites.
func (e *epoch) setError(f *Fix) {
	if f.Kind == Simulator || f.Kind == Manual {
		return
	}
	sigma := 0.0
	if e.gst != nil && e.gst.lat > 0 && e.gst.lon > 0 { // some receivers send zeros for unknown
		sigma = math.Hypot(e.gst.lat, e.gst.lon)
		f.StatedError = sigma * drms95
	}
	switch {
	case tooOld(f.Kind, f.CorrectionAge):
		f.Basis = OldCorrections
	case sigma > 0 && implausible(f.Kind, sigma):
		f.Basis = Implausible
	case sigma > 0:
		f.Error, f.Basis = f.StatedError, FromGST
	case f.HDOP > 0 && f.Kind == Autonomous:
		f.Error, f.Basis = f.HDOP*hdopMeters, FromHDOP
	case f.HDOP > 0 && f.Kind == Differential:
		f.Error, f.Basis = f.HDOP*correctedMeters, FromHDOP
	}
}

// time combines date and time of day. Without a date it takes the day that brings the
// time nearest to this computer's clock, and hasDate is false.
func (e *epoch) time() (at time.Time, hasDate bool) {
	if !e.clock.known {
		return time.Time{}, false
	}
	if e.rmc != nil && !e.rmc.date.IsZero() {
		return e.rmc.date.Add(e.clock.sinceMidnight), true
	}
	at = e.began.UTC().Truncate(24 * time.Hour).Add(e.clock.sinceMidnight)
	switch off := at.Sub(e.began); {
	case off > 12*time.Hour:
		at = at.AddDate(0, 0, -1)
	case off < -12*time.Hour:
		at = at.AddDate(0, 0, 1)
	}
	return at, false
}
