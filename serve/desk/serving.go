package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"sync"
	"time"

	"groundsheet/serve"
	"groundsheet/serve/auth"
	"groundsheet/serve/listen"
	"groundsheet/serve/status"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// serving serves the packs of a job to phones, as groundsheet serve does, for as long as
// its task runs: one job at a time.
type serving struct{ d *desk }

// serveKind is the kind of its task.
const serveKind = "serve"

func (s *serving) routes(d *desk) { d.post("/api/jobs/{job}/serve", s.steer) }

// served is how phones reach the packs, for the page.
type served struct {
	Addresses []servedAddress `json:"addresses"`
	Named     string          `json:"named"`    // the address by NAME.local; "" = it is not announced
	Code      string          `json:"code"`     // "" = nobody is asked for one
	Link      string          `json:"link"`     // with the code
	QRPath    string          `json:"qr_path"`  // of an SVG; "" = there is none
	QRSide    int             `json:"qr_side"`  // its width and height
	Notes     []string        `json:"notes"`    // for the operator
	Phones    int             `json:"phones"`   // addresses that asked lately
	Guessing  string          `json:"guessing"` // somebody guesses codes; "" = nobody does
	Troubles  []string        `json:"troubles"` // packs that cannot be served
}

type servedAddress struct {
	URL  string `json:"url"`
	Note string `json:"note"`
}

// The address that phones reach; when another program has its port, any free one.
const (
	usualAddress = "0.0.0.0:8460"
	anyPort      = "0.0.0.0:0"
)

func (s *serving) steer(r *http.Request) (any, error) {
	var in struct {
		On     bool   `json:"on"`
		Listen string `json:"listen"` // "" = all networks of this computer
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	id := r.PathValue("job")
	dir, err := s.d.job(id)
	if err != nil {
		return nil, err
	}
	for _, t := range s.d.tasks.list() {
		switch {
		case t.Kind != serveKind || t.Ended != nil:
		case in.On && t.Job == id && t.State == running:
			return map[string]any{"task": t.ID}, nil
		case in.On && t.Job != id:
			return nil, &fault.Fault{Kind: changed, Detail: fmt.Sprintf("%q is being served, and one job is served at a time", s.nameOf(t.Job)), Remedy: "stop that first"}
		default:
			if _, err := s.d.tasks.steer(t.ID, "stop"); err != nil {
				return nil, err
			}
		}
	}
	if !in.On {
		return map[string]any{"task": ""}, nil
	}
	packs := s.d.files.look(dir).Packs
	if len(packs) == 0 {
		return nil, &fault.Fault{Kind: notFound, Detail: "the job is not packed yet", Remedy: "pack it first"}
	}
	if _, _, err := net.SplitHostPort(in.Listen); in.Listen != "" && err != nil {
		return nil, &fault.Fault{Place: in.Listen, Err: err, Remedy: "write an address and a port, such as 0.0.0.0:8460"}
	}
	var paths []string
	for _, p := range packs {
		paths = append(paths, p.File)
	}
	return map[string]any{"task": s.d.tasks.start(serveKind, id, func(ctx context.Context, report func(Progress)) error {
		return s.run(ctx, paths, in.Listen, report)
	})}, nil
}

func (s *serving) nameOf(id string) string {
	seen, err := s.d.look(id)
	if err != nil {
		return id
	}
	return cmp.Or(seen.Job.Name, filepath.Base(seen.Dir))
}

// run serves until ctx ends.
func (s *serving) run(ctx context.Context, paths []string, address string, report func(Progress)) (err error) {
	serve.SpareThread()
	o := serve.Options{Log: s.d.log, Page: s.d.field, Listen: listen.Options{Name: "groundsheet"}}
	o.Listen.Auth.Folder = filepath.Dir(s.d.folders.file)
	server, err := serve.Open(ctx, paths, o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.Close()) }()
	ctx, stop := context.WithCancel(ctx)
	var beside sync.WaitGroup
	defer func() { stop(); beside.Wait() }()
	beside.Go(func() { server.Check(ctx) })
	ready := func(notes ...string) func(listen.Access) {
		return func(at listen.Access) {
			out := accessOf(at)
			out.Notes = append(append([]string{}, notes...), out.Notes...)
			beside.Go(func() { tellServed(ctx, server, out, report) })
		}
	}
	if address != "" {
		return server.Listen(ctx, address, ready())
	}
	err = server.Listen(ctx, usualAddress, ready())
	if ctx.Err() == nil && err != nil { // most likely another server has the port
		_, port, _ := net.SplitHostPort(usualAddress)
		err = server.Listen(ctx, anyPort, ready(words.Say("work.port_taken", "port", port)))
	}
	return err
}

// accessOf is how phones get in.
func accessOf(at listen.Access) served {
	out := served{Addresses: []servedAddress{}, Notes: append([]string{}, at.Notes...), Link: at.JoinLink(), Troubles: []string{}}
	all := at.Addresses()
	for _, a := range all {
		out.Addresses = append(out.Addresses, servedAddress{at.Scheme() + "://" + a.HostPort + "/", a.Note()})
	}
	if at.Name != "" && len(all) > 0 {
		if _, port, err := net.SplitHostPort(all[0].HostPort); err == nil {
			out.Named = at.Scheme() + "://" + net.JoinHostPort(at.Name, port) + "/"
		}
	}
	if out.Link == "" {
		return out
	}
	out.Code = auth.FormatCode(at.ViewerCode)
	if code, err := listen.NewQRCode(out.Link); err == nil {
		out.QRPath, out.QRSide = code.Path()
	}
	return out
}

// countEvery is how often the phones are counted.
const countEvery = 3 * time.Second

// tellServed tells how phones get in, and whenever what is told of them changes.
func tellServed(ctx context.Context, server *serve.Server, out served, report func(Progress)) {
	tick := time.NewTicker(countEvery)
	defer tick.Stop()
	for {
		out.Phones, out.Guessing, out.Troubles = server.Phones(), "", []string{}
		if g := server.Guessing(); g != nil {
			out.Guessing = status.GuessingText(*g, g.Latest)
		}
		for _, p := range server.Packs() {
			if p.Trouble != "" {
				out.Troubles = append(out.Troubles, p.Trouble)
			}
		}
		report(Progress{Stage: "serving", Result: out})
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
