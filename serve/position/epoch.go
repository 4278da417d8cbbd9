package position

import (
	"math"
	"time"
)

// epoch gathers the sentences about one moment.
type epoch struct {
	clock clockTime
	began time.Time // when its first sentence came in
	gga   *ggaSentence
	rmc   *rmcSentence
	gst   *gstSentence
	gsa   []gsaSentence
	fresh bool // something was added since the epoch was last given
}

// fix is what the sentences say together; false when none of them is about a
// position.
func (e *epoch) fix(o Options) (Fix, bool) {
	if e.gga == nil && e.rmc == nil {
		return Fix{}, false
	}
	f := Fix{Kind: e.kind(), Satellites: -1, Received: e.began, Recorded: o.Recorded}
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
	at := e.place()
	if f.Kind == NoFix || !at.told {
		f.Kind, f.Altitude = NoFix, nil
		return f, true
	}
	f.Lat, f.Lon = at.lat, at.lon
	f.Live = f.Kind.FromSatellites() && !f.Recorded
	if e.gga != nil && f.Kind.Corrected() {
		f.CorrectionAge, f.Station = e.gga.correction, e.gga.station
	}
	e.circle(&f, o)
	return f, true
}

func (e *epoch) place() place {
	if e.gga != nil && e.gga.place.told {
		return e.gga.place
	}
	if e.rmc != nil && (e.gga == nil || e.gga.kind != NoFix) {
		return e.rmc.place
	}
	return place{}
}

// kind takes the word of the sentence that trusts the position least.
func (e *epoch) kind() Kind {
	k := Fixed
	if e.gga != nil {
		k = e.gga.kind
	}
	if e.rmc != nil {
		if m := e.rmc.kind(e.gga != nil); m.trust() < k.trust() {
			k = m
		}
	}
	if e.noDimensions() {
		return NoFix
	}
	return k
}

// noDimensions says whether every GSA of the epoch (there is one for each
// system of satellites) denies a fix.
func (e *epoch) noDimensions() bool {
	for _, a := range e.gsa {
		if a.dimensions != "1" {
			return false
		}
	}
	return len(e.gsa) > 0
}

// kind is what RMC says. The mode goes before the status: some receivers send
// A with modes that the standard pairs with V. Old ones know neither F nor R
// and send A or D for them, so beside a GGA these say nothing against it.
func (m *rmcSentence) kind(besideGGA bool) Kind {
	switch m.mode {
	case "N":
		return NoFix
	case "S":
		return Simulator
	case "M":
		return Manual
	case "E":
		return Estimated
	case "F", "R":
		if !m.valid && !besideGGA {
			return NoFix
		}
		if m.mode == "F" {
			return Float
		}
		return Fixed
	}
	switch {
	case !m.valid:
		return NoFix
	case besideGGA:
		return Fixed
	case m.mode == "" || m.mode == "A" || m.mode == "P":
		return Autonomous
	case m.mode == "D":
		return Differential
	}
	return Unknown
}

// ninetyFive times √(lat² + lon²) holds 95 % of a normal error or more, whatever
// its shape. How lat and lon go together is not told, so the error may lie along
// one line: then it is just 1.95996 of that line's sigma. Of a round error, whose
// 95 % lie within 2.4477 sigmas or 1.7308 of the root, it holds 97.9 %.
const ninetyFive = 1.95996

// circle sets the radius that holds 95 %. The geometry of the satellites says
// nothing of carrier positions, nor of those that do not come from satellites.
func (e *epoch) circle(f *Fix, o Options) {
	if f.Kind == Simulator || f.Kind == Manual {
		return
	}
	sigma := 0.0
	// Zeros are what some receivers send for nothing.
	if e.gst != nil && e.gst.lat > 0 && e.gst.lon > 0 {
		sigma = math.Hypot(e.gst.lat, e.gst.lon)
		f.StatedError = sigma * ninetyFive
	}
	switch {
	case oldCorrections(f.Kind, f.CorrectionAge):
		f.Basis = OldCorrections
	case sigma > 0 && implausible(f.Kind, sigma):
		f.Basis = Implausible
	case sigma > 0:
		f.Error, f.Basis = f.StatedError, FromGST
	case f.HDOP > 0 && f.Kind == Autonomous:
		f.Error, f.Basis = f.HDOP*o.hdopMetres(), FromHDOP
	case f.HDOP > 0 && f.Kind == Differential:
		f.Error, f.Basis = f.HDOP*o.correctedMetres(), FromHDOP
	}
}

// time puts date and time of day together. Without a date the day is the one
// that brings the time nearest to this computer's clock, and dayTold is false.
func (e *epoch) time() (at time.Time, dayTold bool) {
	if !e.clock.told {
		return time.Time{}, false
	}
	if e.rmc != nil && !e.rmc.date.IsZero() {
		return e.rmc.date.Add(e.clock.at), true
	}
	at = e.began.UTC().Truncate(24 * time.Hour).Add(e.clock.at)
	switch off := at.Sub(e.began); {
	case off > 12*time.Hour:
		at = at.AddDate(0, 0, -1)
	case off < -12*time.Hour:
		at = at.AddDate(0, 0, 1)
	}
	return at, false
}
