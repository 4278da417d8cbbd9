package auth

import (
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
	"groundsheet/serve/authority"
)

// limits of one listener; tests have less patience.
type limits struct {
	headers, request, answer, idle, stop     time.Duration
	headerBytes, conns, connsKept, connsEach int
}

func usualLimits() limits {
	return limits{
		headers: 10 * time.Second, request: 30 * time.Second, answer: time.Minute, idle: 2 * time.Minute, stop: 5 * time.Second,
		headerBytes: 16 << 10, conns: mostConns, connsKept: keptConns, connsEach: mostConnsEach,
	}
}

// Opening is what people need to know of a server that has begun to listen.
type Opening struct {
	Addr        net.Addr
	Open        bool   // nobody is asked for a code
	HTTPS       bool   // plain HTTP on the same port only hands out the certificate
	Look, Mark  string // the codes, as [Spoken] takes them; "" when open
	Name        string // NAME.local, "" when it is not announced
	Fingerprint string // of the certificate to install, "" without HTTPS
	Notes       []string
	Guessing    func() *Guessing // see [Gate.Guessing]
}

// Listen listens on addr and lets people in to the server behind the gate until
// ctx ends, then lets running answers finish for a few seconds. ready is told
// what came out. On loopback nobody is asked for a code, unless Options.Ask says so.
func Listen(ctx context.Context, addr string, inner http.Handler, o Options, ready func(Opening)) error {
	l, err := (&net.ListenConfig{Control: loseSoon}).Listen(ctx, "tcp", addr)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) {
			return fmt.Errorf("cannot listen on %s: another server is running there; end it, or choose another port with --listen", addr)
		}
		return fmt.Errorf("cannot listen on %s: %w; give an address of this machine and a port from 1024 to 65535 with --listen", addr, err)
	}
	defer func() { _ = l.Close() }() // a server that ran has closed it
	loopback := addrOf(l.Addr()).IsLoopback()
	o.Open = loopback && !o.Ask
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Name != "" {
		o.Names = append([]string{o.Name + ".local"}, o.Names...)
	}
	g, notes, err := New(inner, o)
	if err != nil {
		return err
	}
	if o.limits == (limits{}) {
		o.limits = usualLimits()
	}
	d := door{gate: g, o: o, crowd: newCrowd(o.limits), opening: Opening{
		Addr: l.Addr(), Open: o.Open, HTTPS: o.HTTPS, Look: g.Code(Look), Mark: g.Code(Mark), Notes: notes, Guessing: g.Guessing,
	}}
	if o.HTTPS {
		if err := d.certify(l.Addr()); err != nil {
			return err
		}
	}
	if o.Name != "" && !loopback {
		defer d.announce(ctx, l.Addr())()
	}
	return d.serve(ctx, l, ready)
}

// door is a gate that is about to listen.
type door struct {
	gate    *Gate
	o       Options
	crowd   *crowd
	opening Opening
	issuer  *authority.Issuer // nil without HTTPS
}

// certify makes the certificates that HTTPS needs.
func (d *door) certify(at net.Addr) error {
	folder := ""
	if d.o.Folder != "" {
		folder = filepath.Join(d.o.Folder, "authority")
	}
	a, err := authority.Open(authority.Options{Folder: folder, Now: d.o.Now, Names: d.o.Names, Renew: d.o.NewCertificate})
	if err != nil {
		return err
	}
	d.issuer = a.Issuer(addrOf(at), d.o.Names)
	d.gate.ca = newCertificatePage(a)
	d.opening.Fingerprint = a.Fingerprint()
	d.opening.Notes = append(d.opening.Notes, a.Notes()...)
	d.opening.Notes = append(d.opening.Notes, leftOut(d.issuer.LeftOut())...)
	return nil
}

// leftOut says for which names and addresses browsers will warn.
func leftOut(all []string) (notes []string) {
	var elsewhere []string
	for _, out := range all {
		ip, err := netip.ParseAddr(out)
		switch {
		case err == nil && ip.Is6(): // a machine has several, and nobody types them
		case authority.Private(out):
			elsewhere = append(elsewhere, out)
		default:
			notes = append(notes, "the certificate does not hold for "+out+", which is no private address and no name that ends in .local: browsers warn there")
		}
	}
	if len(elsewhere) > 0 {
		notes = append(notes, "the certificate was made in another network or for another name, and does not hold for "+strings.Join(elsewhere, ", ")+
			": browsers warn there. Phones open the .local name, or --new-certificate makes one that they install")
	}
	return notes
}

// announce makes the name known; that it cannot is told and no more: the number
// in the address always leads here.
func (d *door) announce(ctx context.Context, at net.Addr) (stop func()) {
	if by, taken := announce.Taken(ctx, d.o.Name); taken {
		d.opening.Notes = append(d.opening.Notes, fmt.Sprintf("%s.local is not announced, because it leads to another computer on this network (%s): phones open the address with numbers, or start it again with another --name", d.o.Name, by))
		return func() {}
	}
	stop, err := announce.Start(announce.Options{Name: d.o.Name, Addr: addrOf(at)})
	if err != nil {
		d.opening.Notes = append(d.opening.Notes, fmt.Sprintf("%s.local is not announced, phones open the address with numbers: %v", d.o.Name, err))
		return func() {}
	}
	d.opening.Name = d.o.Name + ".local"
	return stop
}

// serve answers until ctx ends.
func (d *door) serve(ctx context.Context, l net.Listener, ready func(Opening)) error {
	main := d.server(d.gate)
	if d.o.OnStop != nil {
		main.RegisterOnShutdown(d.o.OnStop)
	}
	servers := []*http.Server{main}
	failed := make(chan error, 2)
	run := func(s *http.Server, l net.Listener) { failed <- s.Serve(l) }
	if d.issuer == nil {
		go run(main, joining(l))
	} else {
		both := newSplit(ctx, l, d.crowd, d.o.limits.headers)
		bare := d.server(d.gate.bare())
		servers = append(servers, bare)
		main.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: d.issuer.Certificate}
		go func() { failed <- main.ServeTLS(side{both, both.secure}, "", "") }()
		go run(bare, side{both, both.bare})
	}
	ready(d.opening)
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed: // nobody asked it to end
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), d.o.limits.stop)
	defer cancel()
	for _, s := range servers {
		if s.Shutdown(grace) != nil {
			_ = s.Close() // a phone keeps a connection open without asking anything
		}
	}
	return err
}

func (d *door) server(h http.Handler) *http.Server {
	most := d.o.limits
	var beforehand *visit
	if d.o.Open {
		beforehand = &visit{role: Mark}
	}
	return &http.Server{
		Handler: d.crowd.counting(h, d.o.Open),
		BaseContext: func(net.Listener) context.Context {
			return context.WithValue(context.Background(), visitKey{}, beforehand)
		},
		ConnContext: d.crowd.context, ConnState: d.crowd.watch,
		ReadHeaderTimeout: most.headers, ReadTimeout: most.request, WriteTimeout: most.answer, IdleTimeout: most.idle,
		MaxHeaderBytes: most.headerBytes, HTTP2: &http.HTTP2Config{MaxConcurrentStreams: mostStreams},
		ErrorLog: slog.NewLogLogger(d.o.Log.Handler(), slog.LevelDebug),
	}
}

// mostStreams is how many requests a phone may send at once over one HTTP/2 connection. A
// map on a large screen asks for about as many tiles.
const mostStreams = 32
