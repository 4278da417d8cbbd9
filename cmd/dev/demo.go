package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

func demoCommand() *cobra.Command {
	var once bool
	var listen string
	c := &cobra.Command{
		Use: "demo", Short: "Run the whole job on invented data and serve it", Args: cobra.NoArgs,
		Long: `demo builds everything, starts the practice source (a real tile server on
loopback that draws an invented place), makes an invented job, plans, packs and
checks it, and serves it until Ctrl-C. A second run fetches nothing that is
still fresh.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return withRoot(c.Context(), func(ctx context.Context, r repo) error { return demo(ctx, r, listen, once) })
		},
	}
	c.Flags().BoolVar(&once, "once", false, "serve only long enough to prove it, then exit")
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8460", "address of the field server")
	return c
}

func demo(ctx context.Context, r repo, listen string, once bool) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	d := demoRun{repo: r, dir: r.path(".cache", "demo")}
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	defer running.Close() //nolint:errcheck // the process ends with it
	for _, verb := range [][]string{{"plan", d.site()}, {"pack", d.site()}, {"check", d.pack(), "--against", d.site()}, {"brief", d.pack()}} {
		step("groundsheet %s", strings.Join(verb, " "))
		if err := r.runIn(ctx, r.root, d.env(), r.program(), verb...); err != nil {
			return err
		}
	}
	n := running.Server.Counts()
	fmt.Printf("\nthe practice source answered %d requests: %d images, %d not modified, %d absent, %d busy\n", n.Requests, n.Sent, n.NotModified, n.Absent, n.Busy)
	return d.serve(ctx, listen, once)
}

// demoRun is one run of the demo in its own folder under .cache.
type demoRun struct {
	repo  repo
	dir   string
	quiet io.Writer // takes the field server's complaints, and its other words are not shown; nil = all is shown
	extra []string  // set in the field server's environment
}

func (d demoRun) site() string { return filepath.Join(d.dir, "site") }
func (d demoRun) pack() string {
	return filepath.Join(d.site(), "out", "larkwater-lift-station.mbtiles")
}
func (d demoRun) env() []string {
	return []string{"GROUNDSHEET_STORE=" + filepath.Join(d.dir, "store")}
}

// demoPlace is where the practice source has imagery: an invented town where
// the real world has open sea.
var demoPlace = tiles.Box{West: -140.51, South: 40.49, East: -140.49, North: 40.51}

// prepare starts the source and makes the job that uses it.
func (d demoRun) prepare(ctx context.Context) (*practice.Running, error) {
	running, err := d.startSource(ctx)
	if err != nil {
		return nil, err
	}
	if err := d.makeJob(running.URL); err != nil {
		return nil, errors.Join(err, running.Close())
	}
	return running, nil
}

// startSource prefers one port, so that the address stays the same; any free
// one does as well.
func (d demoRun) startSource(ctx context.Context) (*practice.Running, error) {
	step("starting the practice source")
	o := practice.Options{Area: &demoPlace}
	running, err := practice.Start(ctx, "127.0.0.1:8471", o)
	if err != nil {
		running, err = practice.Start(ctx, "", o)
	}
	if err != nil {
		return nil, err
	}
	fmt.Println("invented imagery at", running.URL)
	return running, nil
}

var validUntil = regexp.MustCompile(`(?m)^valid_until = .*$`)

// makeJob copies the invented job, gives its ticket two weeks and points its
// source at the running server.
func (d demoRun) makeJob(url string) error {
	for _, old := range []string{"overlays", "dig-area.geojson", "job.toml", "sources.toml", "README.md"} {
		if err := os.RemoveAll(filepath.Join(d.site(), old)); err != nil {
			return err
		}
	}
	if err := os.CopyFS(d.site(), os.DirFS(d.repo.path("testdata", "demo"))); err != nil {
		return err
	}
	job := filepath.Join(d.site(), "job.toml")
	text, err := os.ReadFile(d.repo.path("testdata", "demo", "job.toml"))
	if err != nil {
		return err
	}
	text = validUntil.ReplaceAll(text, []byte("valid_until = "+time.Now().AddDate(0, 0, 14).Format(time.DateOnly)))
	if err := os.WriteFile(job, text, 0o644); err != nil {
		return err
	}
	sources, err := os.ReadFile(d.repo.path("testdata", "demo", "sources.toml"))
	if err != nil {
		return err
	}
	sources = []byte(strings.ReplaceAll(string(sources), "http://127.0.0.1:8471/{z}/{x}/{y}.jpg", url))
	return os.WriteFile(filepath.Join(d.site(), "sources.toml"), sources, 0o644)
}

// serve runs the field server until Ctrl-C; with once it is asked for one of
// everything and stopped.
func (d demoRun) serve(ctx context.Context, listen string, once bool) error {
	if once {
		listen = "127.0.0.1:0"
	}
	step("groundsheet serve %s --listen %s", d.pack(), listen)
	server, err := d.startServer(ctx, listen)
	if err != nil {
		return err
	}
	if once {
		return errors.Join(prove(ctx, server.base), server.stop())
	}
	select {
	case <-ctx.Done():
		return server.stop()
	case <-server.ended:
		return errors.New("the field server ended by itself")
	}
}

// fieldServer is a running groundsheet serve.
type fieldServer struct {
	base   string // address without a slash at the end
	ended  chan struct{}
	cancel context.CancelFunc
}

// stop asks it to end and waits for that.
func (s *fieldServer) stop() error {
	select {
	case <-s.ended:
		return errors.New("the field server ended by itself")
	default:
	}
	s.cancel()
	<-s.ended
	return nil
}

func (d demoRun) startServer(ctx context.Context, listen string) (*fieldServer, error) {
	return d.startServing(ctx, d.pack(), "--listen", listen)
}

// startServing starts groundsheet serve with these words after it.
func (d demoRun) startServing(ctx context.Context, words ...string) (*fieldServer, error) {
	ctx, cancel := context.WithCancel(ctx)
	c := exec.CommandContext(ctx, d.repo.program(), append([]string{"serve"}, words...)...)
	c.Cancel = func() error { return c.Process.Signal(os.Interrupt) }
	c.WaitDelay = 10 * time.Second
	c.Env = append(os.Environ(), d.extra...)
	if c.Stderr = d.quiet; d.quiet == nil {
		c.Stderr = os.Stderr
	}
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		cancel()
		return nil, err
	}
	s := &fieldServer{ended: make(chan struct{}), cancel: cancel}
	s.base, err = echo(out, d.quiet != nil)
	go func() {
		_ = c.Wait() // how it ended is told by who asked for it
		close(s.ended)
	}()
	if err != nil {
		return nil, errors.Join(err, s.stop())
	}
	return s, nil
}

// echo passes the server's words on and picks its address out of them.
func echo(out io.Reader, quiet bool) (base string, err error) {
	to := io.Writer(os.Stdout)
	if quiet {
		to = io.Discard
	}
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return "", fmt.Errorf("the field server said no address: %w", err)
		}
		fmt.Print(line)
		if url, ok := strings.CutPrefix(strings.TrimSpace(line), "map: "); ok {
			go io.Copy(to, lines)             //nolint:errcheck // ends with the server
			url, _, _ = strings.Cut(url, " ") // what it is follows
			return strings.TrimSuffix(url, "/"), nil
		}
	}
}
