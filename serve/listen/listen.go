// Package listen opens the field server's port: TCP with a limit of connections,
// timeouts, HTTP, and HTTPS with plain HTTP on the same port. [auth.Handler] decides who is
// admitted; an address that it admitted has places reserved among the connections.
package listen

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"groundsheet/serve/announce"
	"groundsheet/serve/auth"
	"groundsheet/serve/authority"
	"groundsheet/tiles/fault"
)

// Options of a listener. The zero value speaks plain HTTP and asks for the code
// except on loopback.
type Options struct {
	Auth           auth.Options // Open and Admitted are set by [Serve]
	Ask            bool         // ask for the code on loopback too
	HTTPS          bool         // with a certificate made here, by an authority in Auth.Folder
	NewCertificate bool         // with HTTPS: replace the authority, for the networks of today; phones install it
	Name           string       // announced as NAME.local; "" = nothing is announced
	OnStop         func()       // called when stopping begins, to end long responses; nil = nothing

	limits limits // zero = usualLimits
}

// limits of one listener; tests are less patient.
type limits struct {
	header, read, write, idle, stop    time.Duration
	headerBytes                        int
	conns, connsReserved, connsPerAddr int // reserved ones are for admitted addresses
}

var usualLimits = limits{
	header: 10 * time.Second, read: 30 * time.Second, write: time.Minute, idle: 2 * time.Minute, stop: 5 * time.Second,
	headerBytes: 16 << 10, conns: 1000, connsReserved: 250, connsPerAddr: auth.MaxConnsPerAddr,
}

// Access is how phones reach a server that listens.
type Access struct {
	Addr         net.Addr
	Open         bool                  // nobody is asked for a code
	HTTPS        bool                  // plain HTTP on the same port only hands out the certificate
	ViewerCode   string                // for [auth.FormatCode]; "" if Open
	RecorderCode string                // the same
	Name         string                // NAME.local; "" if it is not announced
	Fingerprint  string                // of the certificate to install; "" without HTTPS
	Notes        []string              // for the operator
	Guessing     func() *auth.Guessing // see [auth.Handler.Guessing]
}

// Serve listens on addr and serves inner to those whom [auth.Handler] admits, until
// ctx ends; running responses then have a few seconds to finish. It calls ready when
// the server listens. On loopback it asks nobody for a code, unless Options.Ask is set.
func Serve(ctx context.Context, addr string, inner http.Handler, o Options, ready func(Access)) error {
	tcp, err := (&net.ListenConfig{Control: setUserTimeout}).Listen(ctx, "tcp", addr)
	if err != nil {
		f := &fault.Fault{Detail: "cannot listen on " + addr, Err: err}
		f.Remedy = "give an address of this machine and a port from 1024 to 65535 with --listen"
		if errors.Is(err, syscall.EADDRINUSE) {
			f.Err, f.Remedy = errors.New("another server is running there"), "end it, or choose another port with --listen"
		}
		return f
	}
	defer func() { _ = tcp.Close() }() // closed already unless an error follows
	loopback := auth.AddrOf(tcp.Addr()).IsLoopback()
	o.Auth.Open = loopback && !o.Ask
	o.Auth.Admitted, o.Auth.Log = admit, cmp.Or(o.Auth.Log, slog.New(slog.DiscardHandler))
	if o.Name != "" {
		o.Auth.Hosts = append([]string{o.Name + ".local"}, o.Auth.Hosts...)
	}
	h, notes, err := auth.New(inner, o.Auth)
	if err != nil {
		return err
	}
	s := server{Options: o, handler: h, access: Access{
		Addr: tcp.Addr(), Open: o.Auth.Open, HTTPS: o.HTTPS, ViewerCode: h.Code(auth.Viewer),
		RecorderCode: h.Code(auth.Recorder), Notes: notes, Guessing: h.Guessing,
	}}
	s.limits = cmp.Or(o.limits, usualLimits)
	if o.HTTPS {
		if err := s.certify(); err != nil {
			return err
		}
	}
	if o.Name != "" && !loopback {
		defer s.announce(ctx)()
	}
	return s.serve(ctx, tcp, ready)
}

// server is what Serve runs.
type server struct {
	Options
	handler     *auth.Handler
	access      Access
	certificate *certificate      // nil without HTTPS
	issuer      *authority.Issuer // nil without HTTPS
}

func (s *server) note(format string, args ...any) {
	s.access.Notes = append(s.access.Notes, fmt.Sprintf(format, args...))
}

// certify opens the authority and prepares the certificates for HTTPS.
func (s *server) certify() error {
	folder := s.Auth.Folder
	if folder != "" {
		folder = filepath.Join(folder, "authority")
	}
	a, err := authority.Open(authority.Options{Folder: folder, Names: s.Auth.Hosts, Renew: s.NewCertificate})
	if err != nil {
		return err
	}
	s.issuer = a.Issuer(auth.AddrOf(s.access.Addr), s.Auth.Hosts)
	s.certificate = &certificate{s.handler, a.DER(), a.Fingerprint()}
	s.access.Fingerprint = a.Fingerprint()
	s.access.Notes = append(s.access.Notes, a.Notes()...)
	s.access.Notes = append(s.access.Notes, uncertifiedNotes(s.issuer.Uncertified())...)
	return nil
}

// uncertifiedNotes names the hosts for which browsers will warn.
func uncertifiedNotes(hosts []string) (notes []string) {
	var elsewhere []string
	for _, host := range hosts {
		ip, err := netip.ParseAddr(host)
		switch {
		case err == nil && ip.Is6(): // a machine has several, and nobody types them
		case authority.Private(host):
			elsewhere = append(elsewhere, host)
		default:
			notes = append(notes, "the certificate does not hold for "+host+
				", which is no private address and no name that ends in .local: browsers warn there")
		}
	}
	if len(elsewhere) > 0 {
		notes = append(notes, "the certificate was made in another network or for another name, and does not hold for "+
			strings.Join(elsewhere, ", ")+": browsers warn there. "+
			"Phones open the .local name, or --new-certificate makes one that they install")
	}
	return notes
}

// announce announces the name. Failing is only a note: the numeric address works.
func (s *server) announce(ctx context.Context) (stop func()) {
	if by, taken := announce.Taken(ctx, s.Name); taken {
		s.note("%s.local is not announced, because it leads to another computer on this network (%s): "+
			"phones open the address with numbers, or start it again with another --name", s.Name, by)
		return func() {}
	}
	stop, err := announce.Start(s.Name, auth.AddrOf(s.access.Addr))
	if err != nil {
		s.note("%s.local is not announced, phones open the address with numbers: %v", s.Name, err)
		return func() {}
	}
	s.access.Name = s.Name + ".local"
	return stop
}

// serve runs until ctx ends or a server fails.
func (s *server) serve(ctx context.Context, tcp net.Listener, ready func(Access)) error {
	limited := limitListener{tcp, newConnLimiter(s.limits)}
	failed := make(chan error, 2)
	var servers []*http.Server
	start := func(h http.Handler, serve func(*http.Server) error) {
		server := s.newServer(h)
		servers = append(servers, server)
		go func() { failed <- serve(server) }()
	}
	if s.issuer == nil {
		start(s.handler, func(server *http.Server) error { return server.Serve(cork(limited)) })
	} else {
		mux := newTLSMux(limited, s.limits.header)
		secure, plain := muxListener{mux, mux.tls}, muxListener{mux, mux.plain}
		start(s.certificate, func(server *http.Server) error { return server.ServeTLS(secure, "", "") })
		start(http.HandlerFunc(s.certificate.plain), func(server *http.Server) error { return server.Serve(plain) })
	}
	if s.OnStop != nil {
		servers[0].RegisterOnShutdown(s.OnStop)
	}
	ready(s.access)
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.limits.stop)
	defer cancel()
	for _, server := range servers {
		_ = server.Shutdown(grace)
	}
	limited.limiter.closeAll() // phones may keep a connection open without sending anything
	return err
}

func (s *server) newServer(h http.Handler) *http.Server {
	server := &http.Server{
		Handler: counting(h), ConnContext: connContext,
		ReadHeaderTimeout: s.limits.header, ReadTimeout: s.limits.read,
		WriteTimeout: s.limits.write, IdleTimeout: s.limits.idle,
		MaxHeaderBytes: s.limits.headerBytes, HTTP2: &http.HTTP2Config{MaxConcurrentStreams: auth.MaxHTTP2StreamsPerConn},
		ErrorLog: slog.NewLogLogger(s.Auth.Log.Handler(), slog.LevelDebug),
	}
	if s.issuer != nil {
		server.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: s.issuer.Certificate}
	}
	return server
}
