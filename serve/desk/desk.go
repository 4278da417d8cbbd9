// Package desk is the office side of the job as a page on this computer alone: jobs,
// areas, sources, plans, records and work, on the verbs of [office.Office] and the same
// files as the command line. The files are the truth; the desk keeps nothing else.
//
// A part of the desk is a slice: a type of its own that adds its routes, by one line in
// routes.go. What slices share is in type desk: routes with the door before them, known
// job folders, tasks, events.
package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"time"

	"groundsheet/pack/office"
	"groundsheet/serve/document"
	"groundsheet/serve/web"
	"groundsheet/tiles/fault"
)

// Options are the settings of a desk.
type Options struct {
	Folders []string     // places that hold job folders, or job folders, beside those of the user's list
	Config  string       // folder of the user's list of places; "" = groundsheet in the user config folder
	Opened  func()       // called once, when a page has come in by the link; nil = none
	Page    fs.FS        // nil = the built-in page
	Field   fs.FS        // the map page for phones; nil = the built-in one
	Log     *slog.Logger // nil = silent
}

// Server is a desk.
type Server struct{ d *desk }

// desk is what the slices share.
type desk struct {
	office   office.Office
	log      *slog.Logger
	door     *door
	mux      *http.ServeMux
	patterns []string // of all routes of slices
	events   *hub
	tasks    *tasks
	folders  *folders
	assessor *assessor
	files    *reader
	began    time.Time
	nightly  *nightly
	field    fs.FS // the map page for phones; nil = the built-in one
	ends     []func()
}

// New makes a desk. It opens nothing: see [Server.Listen].
func New(o office.Office, opt Options) (*Server, error) {
	files := opt.Page
	if files == nil {
		var err error
		if files, err = web.Desk(); err != nil {
			return nil, err
		}
	}
	page, err := document.Page(files)
	if err != nil {
		return nil, err
	}
	d := &desk{office: o, log: cmp.Or(opt.Log, slog.New(slog.DiscardHandler)), mux: http.NewServeMux(), events: newHub(), files: newReader(), field: opt.Field}
	d.began = d.now()
	if d.door, err = newDoor(); err != nil {
		return nil, err
	}
	d.door.opened = opt.Opened
	if d.folders, err = newFolders(o, opt); err != nil {
		return nil, err
	}
	d.tasks, d.nightly = newTasks(d), &nightly{d: d}
	d.assessor = &assessor{d: d, known: map[string]assessed{}}
	d.mux.Handle("GET /", page)
	d.routes()
	return &Server{d}, nil
}

func (d *desk) now() time.Time {
	if d.office.Fetch.Now != nil {
		return d.office.Fetch.Now()
	}
	return time.Now()
}

// atEnd has something closed when the desk ends.
func (d *desk) atEnd(f func()) { d.ends = append(d.ends, f) }

// publish tells all open pages.
func (d *desk) publish(topic string, value any) { d.events.publish(topic, value) }

// Listen serves the page until ctx ends, on an address of this computer's loopback
// alone. ready is told the link, which holds the secret: whoever has it has the desk.
// Work that is under way then is stopped; what was fetched stays in the office store.
func (s *Server) Listen(ctx context.Context, address string, ready func(link string)) error {
	if err := loopback(address); err != nil {
		return err
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return &fault.Fault{Kind: noPort, Place: address, Err: err, Remedy: "name another port, or 127.0.0.1:0 for any free one"}
	}
	d := s.d
	d.door.host = listener.Addr().String()
	d.tasks.begin(ctx)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	server := &http.Server{Handler: d.door.guard(d.mux), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(d.log.Handler(), slog.LevelWarn)}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	go d.watch(ctx)
	go d.nightly.run(ctx)
	ready("http://" + d.door.host + "/#" + d.door.secret)
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	d.events.close()
	d.tasks.end()
	for _, end := range d.ends {
		end()
	}
	grace, done := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer done()
	if server.Shutdown(grace) != nil {
		_ = server.Close() // a page that holds on to its answer
	}
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return err
}

var noPort = fault.Outside("no port")

// loopback refuses an address that other computers could reach.
func loopback(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return &fault.Fault{Place: address, Err: err, Remedy: "write an address and a port, such as 127.0.0.1:8470"}
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		return &fault.Fault{Place: address, Detail: fmt.Sprintf("%q is not this computer's own address", host),
			Remedy: "the desk is for this computer alone: listen on 127.0.0.1 or [::1]"}
	}
	return nil
}
