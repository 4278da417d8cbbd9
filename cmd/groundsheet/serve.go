package main

import (
	"context"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/serve"
	"groundsheet/serve/catalog"
	"groundsheet/serve/listen"
	"groundsheet/tiles/words"
)

func (a *app) serveCommand() *cobra.Command {
	var f serveFlags
	c := &cobra.Command{
		Use: "serve PACK…|JOB…|FOLDER…", Short: "Serve packs to the phones on the hotspot, with no internet",
		Long: `serve opens a field server. On its default address only this machine can open
the map. To let phones in, listen on the hotspot's address, such as
--listen 0.0.0.0:8460: then serve shows an address, a join code and a QR code, and
whoever has the code comes in. Of a job folder, its packs are served; of another
folder, every .mbtiles file in it.
The packs are checked while they are served; the terminal, the map, /status and
/healthz tell the verdict on each. A pack that is packed again, or
renamed over the old one, is shown within about two seconds; a file that is no pack
is refused, and the old one goes on.

` + accessHelp,
		Args: packArgs,
		RunE: func(c *cobra.Command, args []string) error { return a.runServe(c.Context(), args, f) },
	}
	c.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8460", "address and port; port 0 takes a free one")
	c.Flags().StringVar(&f.receiver, "position", "", positionHelp)
	f.access.add(c)
	return c
}

// serveFlags are what serve is told.
type serveFlags struct {
	listen   string
	receiver string // where a receiver is; "" = none
	access   accessFlags
}

func (a *app) runServe(ctx context.Context, paths []string, f serveFlags) (err error) {
	if paths, err = packFiles(paths); err != nil {
		return err
	}
	if _, _, err := net.SplitHostPort(f.listen); err != nil {
		return wrongUse(fmt.Sprintf("--listen %q: %v", f.listen, err), "such as --listen 127.0.0.1:8460")
	}
	access, err := f.access.options()
	if err != nil {
		return err
	}
	feed, err := openPosition(f.receiver)
	if err != nil {
		return err
	}
	serve.SpareThread()
	s, err := serve.Open(ctx, paths, serve.Options{Log: a.log(), Page: a.page, Listen: access, Position: feed})
	if err != nil {
		return err
	}
	defer closeInto(s.Close, &err)
	ctx, stop := context.WithCancel(ctx)
	var beside sync.WaitGroup
	defer func() { stop(); beside.Wait() }()
	beside.Go(func() { a.tellServed(ctx, s) })
	beside.Go(func() { s.Check(ctx) })
	beside.Go(func() { a.tellGuessing(ctx, s.Guessing, 5*time.Second) })
	if feed != nil {
		beside.Go(func() { a.runPosition(ctx, feed) })
	}
	return s.Listen(ctx, f.listen, func(at listen.Access) {
		a.printAccess(at, f.access.qr)
		if len(s.Packs()) == 0 {
			a.say("no pack is there yet: put an .mbtiles file into %s", strings.Join(paths, ", "))
		}
		a.say("%s", words.Say("caution.always"))
		a.note("stop with Ctrl-C")
	})
}

// tellServed says what is new about the packs while they are served: another
// version, trouble, a verdict.
func (a *app) tellServed(ctx context.Context, s *serve.Server) {
	changed := make(chan struct{}, 1)
	s.OnPack(func(catalog.State) {
		select {
		case changed <- struct{}{}:
		default: // it will look at all of them anyway
		}
	})
	said := map[string]catalog.State{}
	for {
		for _, p := range s.Packs() {
			before, known := said[p.Path]
			said[p.Path] = p
			a.sayServed(before, p, known)
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

// sayServed says what is new about a pack.
func (a *app) sayServed(before, p catalog.State, known bool) {
	if p.Trouble != "" && p.Trouble != before.Trouble {
		a.say("WARNING: %s: %s", p.Path, p.Trouble)
	}
	if known && p.Version != "" && p.Version != before.Version {
		a.say("now served: %s from %s", p.Name, p.Path)
	}
	switch v := p.Verdict; {
	case v == nil || v == before.Verdict:
	case v.NotFit():
		a.say("WARNING: %s: %s. See: groundsheet check %s", p.Path, v, quoted(p.Path))
	default:
		a.say("checked while serving: %s is %s", p.Path, v)
	}
}
