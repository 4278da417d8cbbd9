package position

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// longest is the most bytes a sentence may have without its line end. The
// standard allows 80, receivers of high precision send over 90.
const longest = 160

// sentence is one NMEA 0183 sentence with a right checksum.
type sentence struct {
	kind   string   // the last three letters of its address, such as GGA
	fields []string // what follows the address
}

var (
	errChecksum = errors.New("wrong checksum")
	errNone     = errors.New("no checksum")
	errLong     = fmt.Errorf("longer than %d bytes", longest)
	errBroken   = errors.New("cut off, or with bytes that are no text")
	errAddress  = errors.New("no address of a sentence")
)

// readSentence reads a line from its $ to its checksum. A sentence of a
// maker's own kind has the kind "".
func readSentence(line string) (sentence, error) {
	body, sum, found := strings.Cut(strings.TrimPrefix(line, "$"), "*")
	if !found {
		return sentence{}, errNone
	}
	stated, err := strconv.ParseUint(sum, 16, 8)
	if len(sum) != 2 || err != nil || strings.ContainsAny(sum, "+-_") {
		return sentence{}, errChecksum
	}
	if checksum(body) != byte(stated) {
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
func checksum(body string) byte {
	var sum byte
	for i := range len(body) {
		sum ^= body[i]
	}
	return sum
}

// splitter finds sentences in a stream of bytes, however it is cut. Bytes
// between sentences (a receiver's binary messages) are passed over.
type splitter struct {
	line   []byte // the sentence so far; empty between sentences
	broken error  // why the rest of the line is passed over
	loose  int64  // bytes outside of sentences
}

// take gives each sentence of p that is complete, or why it is none.
func (s *splitter) take(p []byte, each func(line string, err error)) {
	for _, b := range p {
		switch {
		case b == '$':
			s.end(errBroken, each)
			s.line = append(s.line, b)
		case b == '\n' || b == '\r':
			s.end(nil, each)
		case len(s.line) == 0:
			s.loose++
		case s.broken != nil:
		case b < ' ' || b > '~':
			s.broken = errBroken
		case len(s.line) == longest:
			s.broken = errLong
		default:
			s.line = append(s.line, b)
		}
	}
}

// end closes the sentence under way; cut says why when its line has not ended.
func (s *splitter) end(cut error, each func(string, error)) {
	if len(s.line) > 0 {
		err := s.broken
		if err == nil {
			err = cut
		}
		each(string(s.line), err)
	}
	s.line, s.broken = s.line[:0], nil
}
