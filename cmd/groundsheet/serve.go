package main

import (
	"context"
	"fmt"
	"net"

	"github.com/spf13/cobra"

	"groundsheet/pack/check"
	"groundsheet/serve"
	"groundsheet/serve/gate"
)

func (a *app) serveCommand() *cobra.Command {
	var f serveFlags
	c := &cobra.Command{
		Use: "serve PACK…", Short: "Serve packs to the phones on the hotspot, with no internet",
		Long: `serve opens a field server. On its default address only this machine can open
the map. To let phones in, listen on the hotspot's address, such as
--listen 0.0.0.0:8460: then serve shows an address, a join code and a QR code, and
whoever has the code comes in. ` + gateLong + ` The packs are checked while they are
served. A pack that is packed again is shown after serve is started again.`,
		Args: packArgs,
		RunE: func(c *cobra.Command, args []string) error { return a.runServe(c.Context(), args, f) },
	}
	c.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8460", "address and port; port 0 takes a free one")
	f.gate.add(c)
	return c
}

// serveFlags are what serve is told.
type serveFlags struct {
	listen string
	gate   gateFlags
}

func (a *app) runServe(ctx context.Context, paths []string, f serveFlags) (err error) {
	if _, _, err := net.SplitHostPort(f.listen); err != nil {
		return &wrongUse{fmt.Sprintf("--listen %q: %v", f.listen, err), "such as --listen 127.0.0.1:8460"}
	}
	door, err := f.gate.options()
	if err != nil {
		return err
	}
	s, err := serve.Open(ctx, paths, serve.Options{Log: a.log(), Page: a.page, Gate: door})
	if err != nil {
		return err
	}
	defer closeInto(s.Close, &err)
	checked := make(chan struct{})
	ctx, stop := context.WithCancel(ctx)
	defer func() { stop(); <-checked }()
	go func() {
		defer close(checked)
		a.checkServed(ctx, paths)
	}()
	return s.Listen(ctx, f.listen, func(o gate.Opening) {
		a.sayDoor(o, f.gate.qr)
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
