package position

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// longestPause is the most that a gap in a recording is waited for.
const longestPause = time.Minute

// recorded plays a file at the pace of its own times.
type recorded struct {
	file *os.File
	in   *bufio.Reader
	next []byte        // the line that is due next; nil when none is read yet
	due  time.Time     // when it is
	last time.Duration // its time of day, or that of the latest line that has one
	told bool          // last is known
}

func openRecorded(path string) (source, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the recording cannot be read: %w", err)
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return nil, errors.Join(fmt.Errorf("%s is no recording: not a file", path), err, f.Close())
	}
	return &recorded{file: f, in: bufio.NewReaderSize(f, 4096), due: time.Now()}, nil
}

func (r *recorded) Close() error { return r.file.Close() }

func (r *recorded) read(p []byte, patience time.Duration) (int, error) {
	if r.next == nil {
		line, err := r.in.ReadSlice('\n')
		if len(line) == 0 || err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
			if errors.Is(err, io.EOF) {
				return 0, errEnded
			}
			return 0, err
		}
		r.next = line
		r.due = r.due.Add(r.pause(line))
		if since(r.due, time.Now()) > longestPause { // this computer slept: go on from here
			r.due = time.Now()
		}
	}
	if early := time.Until(r.due); early > 0 {
		time.Sleep(min(early, patience))
		if early > patience {
			return 0, nil
		}
	}
	n := copy(p, r.next)
	if r.next = r.next[n:]; len(r.next) == 0 {
		r.next = nil
	}
	return n, nil
}

// pause is how much later a line was said than the one before.
func (r *recorded) pause(line []byte) time.Duration {
	at, ok := timeOf(line)
	if !ok {
		return 0
	}
	gap := at - r.last
	if gap < -12*time.Hour { // past midnight
		gap += 24 * time.Hour
	}
	first := !r.told
	r.last, r.told = at, true
	if first {
		return 0
	}
	return min(max(gap, 0), longestPause)
}

// timeOf is the time of day of a line that is a sentence with one.
func timeOf(line []byte) (at time.Duration, ok bool) {
	var s splitter
	s.take(append(line[:len(line):len(line)], '\n'), func(text string, err error) {
		if err != nil {
			return
		}
		read, err := readSentence(text)
		if err != nil || read.kind != "GGA" && read.kind != "RMC" && read.kind != "GST" || len(read.fields) == 0 {
			return
		}
		r := reader{s: read}
		if c := r.clock(1); r.err == nil && c.told {
			at, ok = c.at, true
		}
	})
	return at, ok
}
