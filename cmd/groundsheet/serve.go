package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/serve"
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
What the crew marks is kept in the field book, NAME.fieldbook beside NAME.mbtiles or in
the folder that --fieldbook names. groundsheet check proves it.

` + accessHelp,
		Args: args(1, 0, "no pack is named", "serve site/out/NAME.mbtiles"),
		RunE: func(c *cobra.Command, args []string) error { return a.runServe(c.Context(), args, f) },
	}
	c.Flags().StringVar(&f.listen, "listen", "127.0.0.1:8460", "address and port; port 0 takes a free one")
	c.Flags().StringVar(&f.receiver, "position", "", positionHelp)
	c.Flags().StringVar(&f.fieldbooks, "fieldbook", "", "folder of the field books, when not beside the packs")
	c.Flags().StringVar(&f.updates, "updates", "", updatesHelp)
	c.Flags().StringVar(&f.instrument, "instrument", "", instrumentHelp)
	f.access.add(c)
	return c
}

// serveFlags are the flags of serve.
type serveFlags struct {
	listen     string
	receiver   string // its address; "" = none
	fieldbooks string // folder; "" = beside the packs
	updates    string // folder; "" = none are taken
	instrument string // its address; "" = none
	access     accessFlags
}

func (a *app) runServe(ctx context.Context, paths []string, f serveFlags) (err error) {
	if paths, err = packFiles(paths); err != nil {
		return err
	}
	if _, _, err := net.SplitHostPort(f.listen); err != nil {
		return wrongUse(fmt.Sprintf("--listen %q: %v", f.listen, err), "such as --listen 127.0.0.1:8460")
	}
	if err := f.access.check(); err != nil {
		return err
	}
	feed, err := openReceiver(f.receiver)
	if err != nil {
		return err
	}
	if info, err := os.Stat(f.fieldbooks); f.fieldbooks != "" && (err != nil || !info.IsDir()) {
		return wrongUse(fmt.Sprintf("--fieldbook %q is no folder", f.fieldbooks), "name one that is there")
	}
	serve.SpareThread()
	s, err := serve.Open(ctx, paths, serve.Options{Log: a.log(), Page: a.page, Listen: f.access.Options, Position: feed,
		Fieldbooks: f.fieldbooks, Program: "groundsheet " + version()})
	if err != nil {
		return err
	}
	defer closeInto(s.Close, &err)
	locator, err := a.openInstrument(s, f.instrument)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	var background sync.WaitGroup
	defer func() { stop(); background.Wait() }()
	background.Go(func() { a.reportPacks(ctx, s) })
	background.Go(func() { a.reportBooks(ctx, s, time.Minute) })
	background.Go(func() { s.Check(ctx) })
	background.Go(func() { a.reportGuessing(ctx, s.Guessing, 5*time.Second) })
	if feed != nil {
		background.Go(func() { a.runReceiver(ctx, feed) })
	}
	if f.updates != "" {
		background.Go(func() { a.takeUpdates(ctx, s, f.updates, 3*time.Second) })
	}
	if locator != nil {
		background.Go(func() { locator(ctx) })
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
