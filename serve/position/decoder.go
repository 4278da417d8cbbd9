package position

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
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

// maxSentence is the most bytes of a sentence without its line end. The
// standard allows 80, high-precision receivers send over 90.
const maxSentence = 160

// sentence is one NMEA 0183 sentence with a right checksum.
type sentence struct {
	kind   string   // the last three letters of its address, such as GGA; "" = proprietary
	fields []string // after the address
}

var (
	errChecksum   = errors.New("wrong checksum")
	errNoChecksum = errors.New("no checksum")
	errLong       = fmt.Errorf("longer than %d bytes", maxSentence)
	errBroken     = errors.New("cut off, or with bytes that are no text")
	errAddress    = errors.New("no address of a sentence")
)

// parseSentence parses a line from its $ to its checksum.
func parseSentence(line string) (sentence, error) {
	body, sum, found := strings.Cut(strings.TrimPrefix(line, "$"), "*")
	if !found {
		return sentence{}, errNoChecksum
	}
	stated, err := strconv.ParseUint(sum, 16, 8)
	if len(sum) != 2 || err != nil || checksum(body) != byte(stated) {
		return sentence{}, errChecksum
	}
	fields := strings.Split(body, ",")
	address := fields[0]
	if strings.HasPrefix(address, "P") {
		return sentence{}, nil
	}
	if len(address) != 5 || strings.Trim(address, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") != "" {
		return sentence{}, errAddress
	}
	return sentence{kind: address[2:], fields: fields[1:]}, nil
}

// checksum is the exclusive or of all bytes between $ and *.
func checksum(body string) (sum byte) {
	for i := range len(body) {
		sum ^= body[i]
	}
	return sum
}

// framer finds sentences in a stream of bytes that arrives in any pieces.
type framer struct {
	line   []byte // the current sentence; empty between sentences
	broken error  // why the rest of the line is skipped
}

// write calls each for every sentence that p completes, with an error if it is broken. It
// returns the number of bytes outside of sentences.
func (f *framer) write(p []byte, each func(line string, err error)) (others int64) {
	for _, b := range p {
		switch {
		case b == '$':
			f.end(errBroken, each)
			f.line = append(f.line, b)
		case b == '\n' || b == '\r':
			f.end(nil, each)
		case len(f.line) == 0:
			others++
		case f.broken != nil:
		case b < ' ' || b > '~':
			f.broken = errBroken
		case len(f.line) == maxSentence:
			f.broken = errLong
		default:
			f.line = append(f.line, b)
		}
	}
	return others
}

// end completes the current sentence; early is the error if its line has not ended.
func (f *framer) end(early error, each func(string, error)) {
	if f.broken == nil {
		f.broken = early
	}
	if len(f.line) > 0 {
		each(string(f.line), f.broken)
	}
	f.line, f.broken = f.line[:0], nil
}
