package main

import (
	"context"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"

	"github.com/spf13/cobra"

	"groundsheet/serve/desk"
)

func (a *app) deskCommand() *cobra.Command {
	var listen string
	var noBrowser bool
	c := &cobra.Command{
		Use: "desk [FOLDER…]", Short: "Open the office side on a page of this computer",
		Long: `desk opens a page in the browser of this computer where jobs are prepared by
pointing: the jobs under the folders that are named here or on the page, their
areas, sources, plans, records, packs. What it writes are the same files that are
written by hand; what is edited by hand shows at once.

The page is for this computer alone, and for whoever has its link, which is new
each time. The link is not on any command line; it is written here, and kept in a
file that only you can read until the page has opened. Long work goes on when the
page is closed; it ends with this command.`,
		RunE: func(c *cobra.Command, args []string) error { return a.runDesk(c.Context(), args, listen, noBrowser) },
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:0", "address of this computer alone, and port; port 0 takes a free one")
	c.Flags().BoolVar(&noBrowser, "no-browser", false, "only write the link")
	return c
}

func (a *app) runDesk(ctx context.Context, folders []string, listen string, noBrowser bool) error {
	var door atomic.Pointer[string]
	shut := func() {
		if path := door.Load(); path != nil {
			_ = os.RemoveAll(filepath.Dir(*path))
		}
	}
	defer shut()
	s, err := desk.New(a.office(), desk.Options{Folders: folders, Page: a.page, Log: a.log(), Opened: shut})
	if err != nil {
		return err
	}
	return s.Listen(ctx, listen, func(link string) {
		a.say("desk: %s", link)
		if !noBrowser {
			path, err := writeDoor(link)
			if err == nil {
				door.Store(&path)
				err = openBrowser(path)
			}
			if err != nil {
				a.note("no browser was opened (%v): open the link above in one", err)
			}
		}
		a.note("stop with Ctrl-C")
	})
}

// writeDoor writes a page that leads to the link, in a folder that only this user can
// read: the browser is started with the name of the file, which others may see.
func writeDoor(link string) (path string, err error) {
	dir, err := os.MkdirTemp("", "groundsheet-desk-") // 0700
	if err != nil {
		return "", err
	}
	path = filepath.Join(dir, "open.html")
	text := fmt.Sprintf(`<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>groundsheet</title>`+
		`<meta http-equiv="refresh" content="0;url=%[1]s"><a href="%[1]s">Open the desk</a>`+"\n", html.EscapeString(link))
	return path, os.WriteFile(path, []byte(text), 0o600)
}

// openBrowser opens a file in the user's browser: $BROWSER, else what the system opens
// pages with. It does not wait for it.
func openBrowser(file string) error {
	var words []string
	switch named := strings.Fields(os.Getenv("BROWSER")); {
	case len(named) > 0:
		words = append(named, file)
	case runtime.GOOS == "windows":
		words = []string{"rundll32", "url.dll,FileProtocolHandler", file}
	case runtime.GOOS == "darwin":
		words = []string{"open", file}
	default:
		words = []string{"xdg-open", file}
	}
	c := exec.Command(words[0], words[1:]...)
	if err := c.Start(); err != nil {
		return err
	}
	go func() { _ = c.Wait() }()
	return nil
}
