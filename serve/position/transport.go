package position

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"time"

	"go.bug.st/serial"
)

// transport delivers the bytes of a receiver.
type transport interface {
	io.Closer
	// read waits no longer than timeout; 0 bytes without an error mean that none came.
	read(p []byte, timeout time.Duration) (int, error)
}

// errEnded is the end of a recording.
var errEnded = errors.New("the recording is over")

func (a Address) open(ctx context.Context) (transport, error) {
	switch a.scheme {
	case "serial":
		return openSerial(a)
	case "tcp":
		c, err := (&net.Dialer{Timeout: 10 * time.Second}).DialContext(ctx, "tcp", a.target)
		if err != nil {
			if op, ok := errors.AsType[*net.OpError](err); ok {
				err = op.Err // the message has operation and address already
			}
			return nil, fmt.Errorf("no answer from %s (%w): see that the receiver is on, and on this network", a.target, err)
		}
		return stream{c}, nil
	case "udp":
		c, err := (&net.ListenConfig{}).ListenPacket(ctx, "udp", a.target)
		if err != nil {
			return nil, fmt.Errorf("cannot listen on UDP %s: %w; give a port that no other program has", a.target, err)
		}
		return &datagrams{PacketConn: c, now: time.Now}, nil
	case "file":
		return openRecording(a.target)
	}
	return nil, errors.New("no receiver is named")
}

// serialPort is a port whose device may be unplugged at any time.
type serialPort struct{ serial.Port }

func openSerial(a Address) (transport, error) {
	port, err := serial.Open(a.target, &serial.Mode{BaudRate: a.baud})
	var failed *serial.PortError
	switch {
	case err == nil:
		return serialPort{port}, nil
	case errors.Is(err, os.ErrPermission) || errors.As(err, &failed) && failed.Code() == serial.PermissionDenied:
		return nil, fmt.Errorf("%s may not be opened: %w; on Linux add yourself to the group that owns it, often dialout",
			a.target, err)
	}
	return nil, fmt.Errorf("%s cannot be opened: %w; see that the receiver is plugged in", a.target, err)
}

func (s serialPort) read(p []byte, timeout time.Duration) (n int, err error) {
	// The library waits with select, which covers the first 1024 file descriptors only:
	// with a great many phones connected, the port may lie beyond and the library panics.
	defer func() {
		if reason := recover(); reason != nil {
			n, err = 0, fmt.Errorf("the serial port cannot be read while so many connections are open: %v", reason)
		}
	}()
	if err := s.SetReadTimeout(timeout); err != nil {
		return 0, err
	}
	if n, err = s.Read(p); err != nil {
		err = fmt.Errorf("the serial port is gone: %w; see that the receiver is still plugged in", err)
	}
	return n, err
}

// stream is a TCP connection.
type stream struct{ net.Conn }

func (s stream) read(p []byte, timeout time.Duration) (int, error) {
	if err := s.SetReadDeadline(time.Now().Add(timeout)); err != nil {
		return 0, err
	}
	n, err := s.Read(p)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return n, nil
	case errors.Is(err, io.EOF):
		return n, errors.New("the receiver closed the connection")
	}
	return n, err
}

// datagrams receives from one sender: with two receivers on one port, the dot on
// the map would jump between them.
type datagrams struct {
	net.PacketConn
	now    func() time.Time
	sender string
	heard  time.Time
}

// senderKept is how long a silent sender keeps others out.
const senderKept = 10 * time.Second

func (d *datagrams) read(p []byte, timeout time.Duration) (int, error) {
	if err := d.SetReadDeadline(time.Now().Add(timeout)); err != nil {
		return 0, err
	}
	for {
		n, from, err := d.ReadFrom(p[:len(p)-1])
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return 0, nil
		}
		if err != nil {
			return 0, err
		}
		now := d.now()
		if from.String() != d.sender && d.sender != "" && since(d.heard, now) < senderKept {
			continue
		}
		d.sender, d.heard = from.String(), now
		p[n] = '\n' // ends the sentence: some senders omit the line end
		return n + 1, nil
	}
}

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
