package position

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// maxGap is the longest gap in a recording that is waited for.
const maxGap = time.Minute

// recording plays a file at the pace of its own times.
type recording struct {
	file  *os.File
	lines *bufio.Reader
	next  []byte    // rest of the line to deliver next
	due   time.Time // when to deliver it
	last  clock     // of the latest line with a time
}

func openRecording(path string) (transport, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the recording cannot be read: %w", err)
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return nil, errors.Join(fmt.Errorf("%s is no recording: not a file", path), err, f.Close())
	}
	return &recording{file: f, lines: bufio.NewReaderSize(f, 4096), due: time.Now()}, nil
}

func (r *recording) Close() error { return r.file.Close() }

func (r *recording) read(p []byte, timeout time.Duration) (int, error) {
	if len(r.next) == 0 {
		line, err := r.lines.ReadSlice('\n')
		switch {
		case errors.Is(err, io.EOF) && len(line) == 0:
			return 0, errEnded
		case err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull):
			return 0, err
		}
		r.next = line
		r.due = r.due.Add(r.gap(line))
		if since(r.due, time.Now()) > maxGap { // this computer slept: continue from here
			r.due = time.Now()
		}
	}
	if early := time.Until(r.due); early > 0 {
		time.Sleep(min(early, timeout))
		if early > timeout {
			return 0, nil
		}
	}
	n := copy(p, r.next)
	r.next = r.next[n:]
	return n, nil
}

// gap returns the time between a line and the one before.
func (r *recording) gap(line []byte) time.Duration {
	c := clockOf(line)
	if !c.known {
		return 0
	}
	gap := c.sinceMidnight - r.last.sinceMidnight
	if gap < -12*time.Hour { // past midnight
		gap += 24 * time.Hour
	}
	if !r.last.known {
		gap = 0
	}
	r.last = c
	return min(max(gap, 0), maxGap)
}

// clockOf returns the time of day in a line, if it is a sentence with one.
func clockOf(line []byte) clock {
	start := max(0, bytes.LastIndexByte(line, '$'))
	s, err := parseSentence(strings.TrimSpace(string(line[start:])))
	if err != nil || s.kind != "GGA" && s.kind != "RMC" && s.kind != "GST" || len(s.fields) == 0 {
		return clock{}
	}
	f := fieldParser{sentence: s}
	return f.clock(1) // the zero clock if it is unreadable
}
