package device

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Link keeps a connection to a device.
type Link struct {
	Address Address
	Now     func() time.Time
	Retry   time.Duration // before a lost device is tried again, doubled up to 4 times as long
	Silence time.Duration // a connection without any byte is opened again after this

	// Pace gives the time of day in a line of a recording, which is played at that pace;
	// nil = a line a second.
	Pace func(line []byte) (sinceMidnight time.Duration, ok bool)
}

// Session takes what comes over one connection.
type Session interface {
	Receive(p []byte, now time.Time)
	Idle(now time.Time)     // nothing came for a moment
	End() (understood bool) // the connection is over; whether anything useful came
}

// readTimeout ends a burst of bytes; it also bounds how long a stop takes.
const readTimeout = 200 * time.Millisecond

// Run reads the device until ctx ends, and connects again whenever it is lost: begin makes
// a session of a connection, lost is told why there is none. A recording is played
// once, or in a loop if the address says so; then lost is told [ErrEnded].
// In the end Run closes the port, connection or file.
func (l Link) Run(ctx context.Context, begin func(opened time.Time) Session, lost func(error)) {
	for wait := l.Retry; ctx.Err() == nil; {
		understood, err := l.connect(ctx, begin)
		ended := errors.Is(err, ErrEnded)
		switch {
		case ctx.Err() != nil:
			return
		case ended && l.Address.loop && understood:
			sleep(ctx, loopPause)
			continue
		case ended:
			lost(err)
			<-ctx.Done()
			return
		}
		lost(err)
		if understood {
			wait = l.Retry
		}
		sleep(ctx, wait)
		wait = min(2*wait, 4*l.Retry)
	}
}

// loopPause comes before a recording plays again.
const loopPause = time.Second

func sleep(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// connect opens the device and reads it until it is lost. understood is true if it sent
// anything useful.
func (l Link) connect(ctx context.Context, begin func(time.Time) Session) (understood bool, err error) {
	in, err := l.open(ctx)
	if err != nil {
		return false, err
	}
	heard := l.Now()
	s := begin(heard)
	defer func() {
		understood = s.End()
		if closing := in.Close(); err == nil {
			err = closing
		}
	}()
	s.Idle(heard)
	buffer := make([]byte, 4096)
	for ctx.Err() == nil {
		n, err := in.read(buffer, readTimeout)
		now := l.Now()
		if n > 0 {
			heard = now
			s.Receive(buffer[:n], now)
		} else if err == nil {
			s.Idle(now)
		}
		if err != nil {
			return false, err
		}
		if Since(heard, now) > l.Silence && l.Address.scheme != "udp" && l.Address.scheme != "file" {
			return false, fmt.Errorf("nothing came for %s", l.Silence)
		}
	}
	return false, ctx.Err()
}

// Since returns the longer one of monotonic and wall clock time: the monotonic clock
// stops while a computer sleeps, and the wall clock may be set.
func Since(then, now time.Time) time.Duration {
	return max(now.Sub(then), now.Round(0).Sub(then.Round(0)), 0)
}
