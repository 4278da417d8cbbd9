package main

import (
	"context"
	"fmt"
	"net"
	"sync"

	"github.com/spf13/cobra"

	"groundsheet/pack/check"
	"groundsheet/serve"
)

func (a *app) serveCommand() *cobra.Command {
	var listen, receiver string
	c := &cobra.Command{
		Use: "serve PACK…", Short: "Serve packs to the phones on the hotspot, with no internet",
		Long: `serve opens a field server. On its default address only this machine can open
the map. To let phones in, listen on the hotspot's address, such as
--listen 0.0.0.0:8460: then everyone on that network can see the packs. The packs
are checked while they are served. A pack that is packed again is shown after
serve is started again.`,
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
	beside.Go(func() { a.checkServed(ctx, paths) })
	if feed != nil {
		beside.Go(func() { a.runPosition(ctx, feed) })
	}
	return s.Listen(ctx, listen, func(addr net.Addr) {
		for _, line := range addresses(addr) {
			a.say("map: http://%s/", line)
		}
		a.say("This map does not replace the one-call marks. Dig by hand near a mark.")
		a.note("stop with Ctrl-C")
	})
}

// checkServed proves the packs while they are served already, so that nobody
// has to wait, and says so when one is not fit.
func (a *app) checkServed(ctx context.Context, paths []string) {
	for _, path := range paths {
		r, err := check.Run(ctx, path, check.Options{})
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			a.say("WARNING: %v", err)
		case r.Verdict != check.Fit:
			a.say("WARNING: %s is NOT FIT, %d of %d tiles: groundsheet check %s says why", path, r.TilesHeld, r.TilesWanted, path)
		default:
			a.say("checked while serving: %s is fit", path)
		}
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
