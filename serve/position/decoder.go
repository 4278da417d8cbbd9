package position

import (
	"cmp"
	"time"
)

// Options of decoding and of a feed. The zero value is fine.
type Options struct {
	Recorded bool             // the input is a recording, so no fix is live; set by [NewFeed]
	Now      func() time.Time // nil = time.Now
	Retry    time.Duration    // before a lost receiver is tried again, doubled up to 4 times as long; 0 = 1 s
	Silence  time.Duration    // a connection without any byte is reopened after this; 0 = 30 s
}

func (o Options) withDefaults() Options {
	o.Retry = cmp.Or(o.Retry, time.Second)
	o.Silence = cmp.Or(o.Silence, 30*time.Second)
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// Counts say how well the input is understood.
type Counts struct {
	Read       int64  // sentences of any kind with a right checksum
	Rejected   int64  // sentences that were skipped because something was wrong
	Rejection  string // what was wrong with the latest of them
	OtherBytes int64  // bytes outside of sentences, such as a receiver's binary messages
}

// Decoder turns the bytes of one receiver into fixes. Make it with
// [NewDecoder]. It is not safe for concurrent use.
type Decoder struct {
	o         Options
	framer    framer
	epoch     epoch
	previous  clock // of the epoch before
	completed []Fix
	counts    Counts
}

// NewDecoder returns a decoder at the start of a stream.
func NewDecoder(o Options) *Decoder { return &Decoder{o: o.withDefaults()} }

// Counts returns the counts so far.
func (d *Decoder) Counts() Counts { return d.counts }

// Write takes bytes that arrived at the given time, and returns the epochs that they
// complete. An epoch is complete when one with another time begins. Wrong input
// is counted, see [Counts], and is no error.
func (d *Decoder) Write(p []byte, at time.Time) []Fix {
	d.completed = nil
	d.counts.OtherBytes += d.framer.write(p, func(line string, err error) {
		if err == nil {
			err = d.decode(line, at)
		}
		if err != nil {
			d.counts.Rejected++
			d.counts.Rejection = err.Error()
		}
	})
	return d.completed
}

// Pending returns the current epoch if it has grown since it was last returned:
// for receivers that pause after their burst of sentences.
func (d *Decoder) Pending() (Fix, bool) {
	if !d.epoch.grown {
		return Fix{}, false
	}
	d.epoch.grown = false
	return d.epoch.fix(d.o.Recorded)
}

// decode adds one sentence to its epoch.
func (d *Decoder) decode(line string, at time.Time) error {
	s, err := parseSentence(line)
	if err != nil {
		return err
	}
	f := fieldParser{sentence: s}
	switch s.kind {
	case "GGA":
		if g := f.gga(); f.err == nil && d.begin(g.clock, at) {
			d.epoch.gga = &g
		}
	case "RMC":
		if m := f.rmc(); f.err == nil && d.begin(m.clock, at) {
			d.epoch.rmc = &m
		}
	case "GST":
		if g := f.gst(); f.err == nil && d.begin(g.clock, at) {
			d.epoch.gst = &g
		}
	case "GSA": // has no time
		if a := f.gsa(); f.err == nil && len(d.epoch.gsa) < 16 { // there are fewer satellite systems
			d.epoch.gsa = append(d.epoch.gsa, a)
			d.epoch.grown = true
		}
	}
	if f.err == nil {
		d.counts.Read++
	}
	return f.err
}

// begin makes the epoch of this time the current one. It returns false for a sentence
// that comes too late for its own. A receiver without time sends none: each of its
// sentences begins an epoch.
func (d *Decoder) begin(c clock, at time.Time) bool {
	e := &d.epoch
	if c.known && c == d.previous && c != e.clock {
		return false
	}
	if !e.began.IsZero() && (c != e.clock || !c.known) {
		if f, ok := d.Pending(); ok {
			d.completed = append(d.completed, f)
		}
		d.previous = e.clock
		*e = epoch{}
	}
	if e.began.IsZero() {
		e.clock, e.began = c, at
	}
	e.grown = true
	return true
}
