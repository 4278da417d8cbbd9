package position

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
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
			var op *net.OpError
			if errors.As(err, &op) {
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
		return nil, fmt.Errorf("%s may not be opened: %w; on Linux add yourself to the group that owns it, often dialout", a.target, err)
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
