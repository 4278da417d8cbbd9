package practice

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"
)

// Running is a practice source that listens. Close it when done.
type Running struct {
	URL    string // template of the tiles, e.g. http://127.0.0.1:4711/{z}/{x}/{y}.jpg
	Server *Server

	http *http.Server
	stop func() bool
	done chan error
}

// Start listens on an address of this machine alone ("" = 127.0.0.1 and a free
// port) and serves until the context ends or [Running.Close] is called. Any
// other address is refused: invented imagery must not be taken for a source
// that others may use.
func Start(ctx context.Context, addr string, o Options) (*Running, error) {
	if addr == "" {
		addr = "127.0.0.1:0"
	}
	if err := loopback(addr); err != nil {
		return nil, err
	}
	if err := o.Zooms.Check(); err != nil {
		return nil, fmt.Errorf("practice source: %w", err)
	}
	var config net.ListenConfig
	l, err := config.Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("practice source: listen on %s: %w", addr, err)
	}
	r := &Running{
		URL:    "http://" + l.Addr().String() + "/{z}/{x}/{y}.jpg",
		Server: New(o),
		done:   make(chan error, 1),
	}
	r.http = &http.Server{
		Handler:           r.Server,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       time.Minute,
	}
	go func() { r.done <- r.http.Serve(l) }()
	r.stop = context.AfterFunc(ctx, func() { _ = r.http.Close() })
	return r, nil
}

// Close stops listening, lets requests that are being answered finish for up
// to a second, and returns what ended the server, if that was not Close or the
// context. It may be called once.
func (r *Running) Close() error {
	r.stop()
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if r.http.Shutdown(ctx) != nil {
		_ = r.http.Close()
	}
	if err := <-r.done; !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("practice source: %w", err)
	}
	return nil
}

// loopback refuses addresses that others could reach.
func loopback(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("practice source: address %q: want host:port such as 127.0.0.1:8090: %w", addr, err)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return fmt.Errorf("practice source: address %q: only this machine may use it; listen on 127.0.0.1", addr)
	}
	return nil
}
