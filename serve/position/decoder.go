package position

import "time"

// Options of decoding and of a feed. The zero value is fine.
type Options struct {
	// HDOPMeters is the error at 95 % for each unit of HDOP, in metres, of a
	// position without corrections; 0 = 15. CorrectedMeters is the same with
	// corrections of the codes; 0 = 3.75. Both are careful assumptions of common
	// practice, so circles made of them are called estimated.
	HDOPMeters, CorrectedMeters float64

	Recorded bool             // what is decoded was recorded, so no fix is live; a feed knows by itself
	Now      func() time.Time // nil = time.Now
	Retry    time.Duration    // before a lost receiver is tried again, doubled up to 4 times as long; 0 = 1 s
	Silence  time.Duration    // with no byte for so long a connection is made anew; 0 = 30 s
}

func (o Options) hdopMetres() float64      { return or(o.HDOPMeters, 15) }
func (o Options) correctedMetres() float64 { return or(o.CorrectedMeters, 3.75) }
func (o Options) retry() time.Duration     { return or(o.Retry, time.Second) }
func (o Options) silence() time.Duration   { return or(o.Silence, 30*time.Second) }
func (o Options) now() time.Time {
	if o.Now == nil {
		return time.Now()
	}
	return o.Now()
}

func or[T float64 | time.Duration](v, otherwise T) T {
	if v == 0 {
		return otherwise
	}
	return v
}

// Counts tell how well a receiver is understood.
type Counts struct {
	Read    int64  // sentences with a right checksum, of every kind
	Rejected int64  // sentences that were passed over because something was wrong
	Rejection string // what was wrong with the latest of them
	OtherBytes   int64  // bytes outside of sentences, such as a receiver's binary messages
}

// Decoder turns the bytes of one receiver into fixes. Make it with
// [NewDecoder]. It is not safe for use by several goroutines at once.
type Decoder struct {
	o      Options
	split  splitter
	now    epoch
	before clockTime // of the epoch before this one
	counts Counts
}

// NewDecoder makes a decoder at the start of a stream.
func NewDecoder(o Options) *Decoder { return &Decoder{o: o} }

// Counts so far.
func (d *Decoder) Counts() Counts {
	c := d.counts
	c.OtherBytes = d.split.loose
	return c
}

// Write takes the next bytes, which came in at the time given, and returns
// the epochs that they complete: an epoch is complete when one with another
// time begins. Nothing in the bytes is an error; see [Counts].
func (d *Decoder) Write(p []byte, at time.Time) []Fix {
	var done []Fix
	d.split.take(p, func(line string, err error) {
		if err == nil {
			err = d.line(line, at, &done)
		}
		if err != nil {
			d.counts.Rejected++
			d.counts.Rejection = err.Error()
		}
	})
	return done
}

// Pending gives the epoch under way when it has grown since it was last given:
// for use when a receiver pauses after its burst of sentences. An epoch that
// grows still more is given again.
func (d *Decoder) Pending() (Fix, bool) {
	if !d.now.fresh {
		return Fix{}, false
	}
	d.now.fresh = false
	return d.now.fix(d.o)
}

// line reads one sentence and adds it to its epoch.
func (d *Decoder) line(line string, at time.Time, done *[]Fix) error {
	s, err := readSentence(line)
	if err != nil {
		return err
	}
	switch s.kind {
	case "GGA":
		var g ggaSentence
		if g, err = readGGA(s); err == nil && d.turn(g.clock, at, done) {
			d.now.gga = &g
		}
	case "RMC":
		var m rmcSentence
		if m, err = readRMC(s); err == nil && d.turn(m.clock, at, done) {
			d.now.rmc = &m
		}
	case "GST":
		var g gstSentence
		if g, err = readGST(s); err == nil && d.turn(g.clock, at, done) {
			d.now.gst = &g
		}
	case "GSA":
		var a gsaSentence
		if a, err = readGSA(s); err == nil && len(d.now.gsa) < 16 { // more systems than there are
			d.now.gsa = append(d.now.gsa, a)
			d.now.fresh = true
		}
	}
	if err == nil {
		d.counts.Read++
	}
	return err
}

// turn makes the epoch of this time the present one; false when the sentence
// comes too late for its own. Sentences without a time tell of a receiver
// that has none yet: each begins anew.
func (d *Decoder) turn(c clockTime, at time.Time, done *[]Fix) bool {
	if c.told && c == d.before && c != d.now.clock {
		return false
	}
	begun := d.now.gga != nil || d.now.rmc != nil || d.now.gst != nil
	if begun && (c != d.now.clock || !c.told) {
		if d.now.fresh {
			if f, ok := d.now.fix(d.o); ok {
				*done = append(*done, f)
			}
		}
		d.before = d.now.clock
		d.now = epoch{}
		begun = false
	}
	if !begun {
		d.now.clock, d.now.began = c, at
	}
	d.now.fresh = true
	return true
}
