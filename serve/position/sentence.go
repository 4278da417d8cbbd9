package position

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

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
