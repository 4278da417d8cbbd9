package device

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"time"

	"go.bug.st/serial"
)

// transport delivers the bytes of a device.
type transport interface {
	io.Closer
	// read waits no longer than timeout; 0 bytes without an error mean that none came.
	read(p []byte, timeout time.Duration) (int, error)
}

// ErrEnded is the end of a recording.
var ErrEnded = errors.New("the recording is over")

func (l Link) open(ctx context.Context) (transport, error) {
	a := l.Address
	switch a.scheme {
	case "serial":
		return openSerial(a)
	case "tcp":
		c, err := (&net.Dialer{Timeout: 10 * time.Second}).DialContext(ctx, "tcp", a.target)
		if err != nil {
			if op, ok := errors.AsType[*net.OpError](err); ok {
				err = op.Err // the message has operation and address already
			}
			return nil, fmt.Errorf("no answer from %s (%w): see that the %s is on, and on this network", a.target, err, a.what)
		}
		return stream{c, a.what}, nil
	case "udp":
		c, err := (&net.ListenConfig{}).ListenPacket(ctx, "udp", a.target)
		if err != nil {
			return nil, fmt.Errorf("cannot listen on UDP %s: %w; give a port that no other program has", a.target, err)
		}
		return &datagrams{PacketConn: c, now: time.Now}, nil
	case "file":
		return openRecording(a.target, l.Pace)
	}
	return nil, errors.New("nothing is named to read from")
}

// serialPort is a port whose device may be unplugged at any time.
type serialPort struct {
	serial.Port
	what string
}

func openSerial(a Address) (transport, error) {
	port, err := serial.Open(a.target, &serial.Mode{BaudRate: a.baud})
	var failed *serial.PortError
	switch {
	case err == nil:
		return serialPort{port, a.what}, nil
	case errors.Is(err, os.ErrPermission) || errors.As(err, &failed) && failed.Code() == serial.PermissionDenied:
		return nil, fmt.Errorf("%s may not be opened: %w; on Linux add yourself to the group that owns it, often dialout",
			a.target, err)
	}
	return nil, fmt.Errorf("%s cannot be opened: %w; see that the %s is plugged in", a.target, err, a.what)
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
		err = fmt.Errorf("the serial port is gone: %w; see that the %s is still plugged in", err, s.what)
	}
	return n, err
}

// stream is a TCP connection.
type stream struct {
	net.Conn
	what string
}

func (s stream) read(p []byte, timeout time.Duration) (int, error) {
	if err := s.SetReadDeadline(time.Now().Add(timeout)); err != nil {
		return 0, err
	}
	n, err := s.Read(p)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return n, nil
	case errors.Is(err, io.EOF):
		return n, fmt.Errorf("the %s closed the connection", s.what)
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
		if from.String() != d.sender && d.sender != "" && Since(d.heard, now) < senderKept {
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
	pace  func(line []byte) (time.Duration, bool)
	last  time.Duration // the time of day of the latest line with one
	timed bool          // there was one
}

func openRecording(path string, pace func([]byte) (time.Duration, bool)) (transport, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the recording cannot be read: %w", err)
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return nil, errors.Join(fmt.Errorf("%s is no recording: not a file", path), err, f.Close())
	}
	return &recording{file: f, lines: bufio.NewReaderSize(f, 4096), due: time.Now(), pace: pace}, nil
}

func (r *recording) Close() error { return r.file.Close() }

func (r *recording) read(p []byte, timeout time.Duration) (int, error) {
	if len(r.next) == 0 {
		line, err := r.lines.ReadSlice('\n')
		switch {
		case errors.Is(err, io.EOF) && len(line) == 0:
			return 0, ErrEnded
		case err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull):
			return 0, err
		}
		r.next = line
		r.due = r.due.Add(r.gap(line))
		if Since(r.due, time.Now()) > maxGap { // this computer slept: continue from here
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
	if r.pace == nil {
		return time.Second
	}
	now, ok := r.pace(line)
	if !ok {
		return 0
	}
	gap := now - r.last
	if gap < -12*time.Hour { // past midnight
		gap += 24 * time.Hour
	}
	if !r.timed {
		gap = 0
	}
	r.last, r.timed = now, true
	return min(max(gap, 0), maxGap)
}
