package main

import (
	"context"
	"fmt"
	"net"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"groundsheet/pack/check"
	"groundsheet/serve"
)

func (a *app) serveCommand() *cobra.Command {
	var listen, receiver string
	c := &cobra.Command{
		Use: "serve PACK…|FOLDER…", Short: "Serve packs to the phones on the hotspot, with no internet",
		Long: `serve opens a field server. On its default address only this machine can open
the map. To let phones in, listen on the hotspot's address, such as
--listen 0.0.0.0:8460: then everyone on that network can see the packs. Of a
folder, every .mbtiles file in it is served. The packs are checked while they are
served. A pack that is packed again, or renamed over the old one, is shown within
about two seconds; a file that is no pack is refused, and the old one goes on.`,
		Args: packArgs,
		RunE: func(c *cobra.Command, args []string) error { return a.runServe(c.Context(), args, listen, receiver) },
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8460", "address and port; port 0 takes a free one")
	c.Flags().StringVar(&receiver, "position", "", positionHelp)
	return c
}

func (a *app) runServe(ctx context.Context, paths []string, listen, receiver string) (err error) {
	if _, _, err := net.SplitHostPort(listen); err != nil {
		return &wrongUse{fmt.Sprintf("--listen %q: %v", listen, err), "such as --listen 127.0.0.1:8460"}
	}
	feed, err := openPosition(receiver)
	if err != nil {
		return err
	}
	s, err := serve.Open(ctx, paths, serve.Options{Log: a.log(), Page: a.page, Position: feed})
	if err != nil {
		return err
	}
	defer closeInto(s.Close, &err)
	ctx, stop := context.WithCancel(ctx)
	var beside sync.WaitGroup
	defer func() { stop(); beside.Wait() }()
	beside.Go(func() { a.checkServed(ctx, s) })
	if feed != nil {
		beside.Go(func() { a.runPosition(ctx, feed) })
	}
	return s.Listen(ctx, listen, func(addr net.Addr) {
		for _, line := range addresses(addr) {
			a.say("map: http://%s/", line)
		}
		if len(s.Packs()) == 0 {
			a.say("no pack is there yet: put an .mbtiles file into %s", strings.Join(paths, ", "))
		}
		a.say("This map does not replace the one-call marks. Dig by hand near a mark.")
		a.note("stop with Ctrl-C")
	})
}

// checkServed proves the packs while they are served already, so that nobody
// has to wait, and says so when one is not fit; those that come later too.
func (a *app) checkServed(ctx context.Context, s *serve.Server) {
	changed := make(chan struct{}, 1)
	s.OnPack(func(serve.PackState) {
		select {
		case changed <- struct{}{}:
		default: // it will look at all of them anyway
		}
	})
	var one sync.Mutex // the disk is for the phones first
	var checks sync.WaitGroup
	defer checks.Wait()
	said := map[string]serve.PackState{}
	for {
		for _, p := range s.Packs() {
			before, known := said[p.Path]
			said[p.Path] = p
			if a.sayServed(before, p, known) {
				checks.Go(func() {
					one.Lock()
					defer one.Unlock()
					a.checkServedOne(ctx, p.Path)
				})
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

// sayServed says what is new about a pack, and whether it is another version.
func (a *app) sayServed(before, p serve.PackState, known bool) bool {
	if p.Trouble != "" && p.Trouble != before.Trouble {
		a.say("WARNING: %s: %s", p.Path, p.Trouble)
	}
	if p.Version == "" || p.Version == before.Version {
		return false
	}
	if known {
		a.say("now served: %s from %s", p.Name, p.Path)
	}
	return true
}

func (a *app) checkServedOne(ctx context.Context, path string) {
	if ctx.Err() != nil {
		return
	}
	r, err := check.Run(ctx, path, check.Options{})
	switch {
	case ctx.Err() != nil:
	case err != nil:
		a.say("WARNING: %v", err)
	case r.Verdict != check.Fit:
		a.say("WARNING: %s is NOT FIT, %d of %d tiles: groundsheet check %s says why", path, r.TilesHeld, r.TilesWanted, path)
	default:
		a.say("checked while serving: %s is fit", path)
	}
}

// addresses are what a phone can type: for a server on all interfaces, each
// address of this machine.
func addresses(addr net.Addr) []string {
	tcp, ok := addr.(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return []string{addr.String()}
	}
	found, err := net.InterfaceAddrs()
	if err != nil {
		return []string{addr.String()}
	}
	var all []string
	for _, f := range found {
		if ip, ok := f.(*net.IPNet); ok && ip.IP.To4() != nil {
			all = append(all, net.JoinHostPort(ip.IP.String(), fmt.Sprint(tcp.Port)))
		}
	}
	return all
}
