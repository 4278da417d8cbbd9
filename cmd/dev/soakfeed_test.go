//go:build soak

package main

import (
	"context"
	"fmt"
	"net"
	"sync"
	"time"
)

// soakFeed is a receiver of positions on the network that can be cut off and
// brought back under the same address.
type soakFeed struct {
	addr string
	mu   sync.Mutex
	up   net.Listener
	all  map[net.Conn]bool
	done sync.WaitGroup
}

func newSoakFeed(ctx context.Context) (*soakFeed, error) {
	f := &soakFeed{addr: "127.0.0.1:0", all: map[net.Conn]bool{}}
	return f, f.restore(ctx)
}

// restore listens, at the address of before if there was one.
func (f *soakFeed) restore(ctx context.Context) error {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", f.addr)
	if err != nil {
		return fmt.Errorf("the receiver of the soak: %w", err)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.addr, f.up = l.Addr().String(), l
	f.done.Go(func() { f.accept(l) })
	return nil
}

func (f *soakFeed) accept(l net.Listener) {
	for {
		c, err := l.Accept()
		if err != nil {
			return // it was cut
		}
		f.mu.Lock()
		if f.up == l {
			f.all[c] = true
			f.done.Go(func() { f.speak(c) })
		} else {
			_ = c.Close()
		}
		f.mu.Unlock()
	}
}

// speak says five times a second where the receiver is, walking east.
func (f *soakFeed) speak(c net.Conn) {
	defer c.Close() //nolint:errcheck // it is cut off
	for n := 0; ; n++ {
		if _, err := fmt.Fprint(c, sentence(time.Now(), n)); err != nil {
			return
		}
		time.Sleep(200 * time.Millisecond)
	}
}

// sentence is a GGA sentence of NMEA 0183 in the invented town.
func sentence(now time.Time, n int) string {
	body := fmt.Sprintf("GPGGA,%s,4029.9%03d,N,14029.8%03d,W,4,12,0.8,12.0,M,0.0,M,1.0,0000", now.UTC().Format("150405.00"), n%1000, (n*3)%1000)
	var sum byte
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// cut ends all connections and lets no new one in.
func (f *soakFeed) cut() {
	f.mu.Lock()
	if f.up != nil {
		_ = f.up.Close()
		f.up = nil
	}
	for c := range f.all {
		_ = c.Close()
		delete(f.all, c)
	}
	f.mu.Unlock()
	f.done.Wait()
}
