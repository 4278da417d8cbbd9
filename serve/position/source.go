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

// source gives the bytes of a receiver.
type source interface {
	io.Closer
	// read waits at most for patience; none and no error means that no byte came.
	read(p []byte, patience time.Duration) (int, error)
}

// errEnded is a recording that was played to its end.
var errEnded = errors.New("the recording is over")

func (a Address) open(ctx context.Context) (source, error) {
	switch a.way {
	case "serial":
		return openSerial(a)
	case "tcp":
		c, err := (&net.Dialer{Timeout: 10 * time.Second}).DialContext(ctx, "tcp", a.at)
		if err != nil {
			return nil, fmt.Errorf("no answer from %s (%w): see that the receiver is on, and on this network", a.at, cause(err))
		}
		return stream{c}, nil
	case "udp":
		c, err := (&net.ListenConfig{}).ListenPacket(ctx, "udp", a.at)
		if err != nil {
			return nil, fmt.Errorf("cannot listen on UDP %s: %w; give a port that no other program has", a.at, err)
		}
		return &datagrams{PacketConn: c, now: time.Now}, nil
	case "file":
		return openRecorded(a.at)
	}
	return nil, errors.New("no receiver is named")
}

// cause leaves out what the caller says itself: that it dialled, and where.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		err = op.Err
	}
	var call *os.SyscallError
	if errors.As(err, &call) {
		err = call.Err
	}
	return err
}

// serialPort is a port whose device may be pulled out at any time.
type serialPort struct {
	serial.Port
	patience time.Duration
}

func openSerial(a Address) (source, error) {
	port, err := serial.Open(a.at, &serial.Mode{BaudRate: a.baud})
	if err != nil {
		if errors.Is(err, os.ErrPermission) || isCode(err, serial.PermissionDenied) {
			return nil, fmt.Errorf("%s may not be opened: %w; on Linux add yourself to the group that owns it, often dialout", a.at, err)
		}
		return nil, fmt.Errorf("%s cannot be opened: %w; see that the receiver is plugged in", a.at, err)
	}
	return &serialPort{Port: port}, nil
}

func isCode(err error, code serial.PortErrorCode) bool {
	var p *serial.PortError
	return errors.As(err, &p) && p.Code() == code
}

func (s *serialPort) read(p []byte, patience time.Duration) (n int, err error) {
	// The library waits with select, which knows the first 1024 open files alone:
	// on a port beyond them, when a great many phones are connected, it panics.
	defer func() {
		if trouble := recover(); trouble != nil {
			n, err = 0, fmt.Errorf("the serial port cannot be read while so many connections are open: %v", trouble)
		}
	}()
	if patience != s.patience {
		if err := s.SetReadTimeout(patience); err != nil {
			return 0, err
		}
		s.patience = patience
	}
	n, err = s.Read(p)
	if err != nil {
		return n, fmt.Errorf("the serial port is gone: %w; see that the receiver is still plugged in", err)
	}
	return n, nil
}

// stream is a connection.
type stream struct{ net.Conn }

func (s stream) read(p []byte, patience time.Duration) (int, error) {
	if err := s.SetReadDeadline(time.Now().Add(patience)); err != nil {
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

// datagrams listens for whoever sends. It keeps to one sender: two receivers
// on one port would make a dot that jumps between them.
type datagrams struct {
	net.PacketConn
	now    func() time.Time
	sender string
	heard  time.Time
}

// senderStays is how long a silent sender keeps others out.
const senderStays = 10 * time.Second

func (d *datagrams) read(p []byte, patience time.Duration) (int, error) {
	if err := d.SetReadDeadline(time.Now().Add(patience)); err != nil {
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
		if from.String() != d.sender && d.sender != "" && since(d.heard, now) < senderStays {
			continue
		}
		d.sender, d.heard = from.String(), now
		p[n] = '\n' // some senders leave the line end out: a datagram ends a sentence
		return n + 1, nil
	}
}
