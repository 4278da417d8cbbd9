package main

import (
	"context"
	"fmt"
	"net"

	"github.com/spf13/cobra"

	"groundsheet/serve"
)

func (a *app) serveCommand() *cobra.Command {
	var listen string
	c := &cobra.Command{
		Use: "serve PACK…", Short: "Serve packs to the phones on the hotspot, with no internet",
		Long: `serve opens a field server. On its default address only this machine can open
the map. To let phones in, listen on the hotspot's address, such as
--listen 0.0.0.0:8460: then everyone on that network can see the packs.`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &wrongUse{"no pack is named", "such as: groundsheet serve site/out/NAME.mbtiles"}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return a.runServe(c.Context(), args, listen) },
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8460", "address and port; port 0 takes a free one")
	return c
}

func (a *app) runServe(ctx context.Context, paths []string, listen string) (err error) {
	if _, _, err := net.SplitHostPort(listen); err != nil {
		return &wrongUse{fmt.Sprintf("--listen %q: %v", listen, err), "such as --listen 127.0.0.1:8460"}
	}
	s, err := serve.Open(ctx, paths, serve.Options{Log: a.log()})
	if err != nil {
		return err
	}
	defer closeInto(s.Close, &err)
	return s.Listen(ctx, listen, func(addr net.Addr) {
		for _, line := range addresses(addr) {
			a.say("map: http://%s/", line)
		}
		a.say("This map does not replace the one-call marks. Dig by hand near a mark.")
		a.note("stop with Ctrl-C")
	})
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
