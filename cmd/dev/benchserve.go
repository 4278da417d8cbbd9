package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// What serving must show.
const (
	leastOfFilesHot     = 1.1  // of the rate of Go's file server, for what a crew looks at
	leastOfNginxHot     = 0.6  // of the rate of nginx with sendfile
	leastOfFilesUniform = 0.85 // the same for tiles of the whole pack in no order
	leastOfNginxUniform = 0.4
	mostLate            = 1.0 // of the file server's 99th percentile
	mostAnonymous       = 96.0
	mostFirst           = 100 * time.Millisecond
	leastEnlarged       = 400.0 // a second, none of them made before
	leastOfHot          = 0.8   // of the rate of tiles as packed, once they are made
	wrkConnections      = 64
)

// serveSizes are how much a bench of serving does.
type serveSizes struct {
	tiles, hot, rounds int   // hot: tiles that a crew looks at
	seconds            int   // that one measurement takes
	large              int64 // bytes of the pack whose first tile is waited for
}

func benchServe(ctx context.Context, r repo) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	return inScratch(r, "serve", func(b *bench) error {
		return b.serving(ctx, r.program(), serveSizes{tiles: 20000, hot: 500, rounds: 7, seconds: 3, large: 10 << 30})
	})
}

// competitor is a server and how it addresses its tiles.
type competitor struct {
	*background
	before string // what comes before Z/X/Y.jpg in the path
}

func (b *bench) serving(ctx context.Context, program string, s serveSizes) error {
	mean, err := writeTiles(filepath.Join(b.dir, "tiles"), s.tiles)
	if err != nil {
		return err
	}
	pack := filepath.Join(b.dir, "bench.mbtiles")
	if err := writeBenchPack(ctx, pack, s.tiles); err != nil {
		return err
	}
	nginx, err := startNginx(ctx, b.dir)
	if err != nil {
		return err
	}
	defer nginx.kill()
	files, err := startServer(ctx, "files:", b.dev, hiddenFiles, filepath.Join(b.dir, "tiles"))
	if err != nil {
		return err
	}
	defer files.kill()
	ours, err := startServer(ctx, "map:", program, "serve", pack, "--listen", "127.0.0.1:0")
	if err != nil {
		return err
	}
	defer ours.kill()
	all := []competitor{{nginx, "/"}, {files, "/"}, {ours, "/packs/bench/tiles/"}}
	load, _, _ := strings.Cut(readOr("/proc/loadavg", "unknown"), " ")
	fmt.Fprintf(b.out, "%d JPEG tiles of %.1f KB on average, wrk on loopback with %d connections, %d rounds, load before %s\n",
		s.tiles, mean/1000, wrkConnections, s.rounds, load)
	for _, set := range []tileSet{
		{name: fmt.Sprintf("hot set of %d", s.hot), zoom: benchZoom, tiles: s.hot, files: leastOfFilesHot, nginx: leastOfNginxHot},
		{name: "uniformly random", zoom: benchZoom, tiles: s.tiles, files: leastOfFilesUniform, nginx: leastOfNginxUniform},
	} {
		if err := b.compareServers(ctx, all, set, s); err != nil {
			return err
		}
	}
	if err := b.rendered(ctx, all[2], s); err != nil {
		return err
	}
	return b.firstTile(ctx, program, s.large)
}

func (b *bench) compareServers(ctx context.Context, servers []competitor, set tileSet, s serveSizes) error {
	all, err := inTurn(s.rounds+1, len(servers), func(which int) (measured, error) { return b.wrk(ctx, servers[which], set, s.seconds) })
	if err != nil {
		return err
	}
	for i := range all {
		all[i] = all[i][1:] // the first round warms up
	}
	rate, late := func(m measured) float64 { return m.rate }, func(m measured) float64 { return m.p99.Seconds() }
	ofFiles, ofNginx, slower := ratios(all[2], all[1], rate), ratios(all[2], all[0], rate), ratios(all[2], all[1], late)
	b.aim(ofFiles >= set.files, "%s: %.2f of the file server (median; aim %.2f)", set.name, ofFiles, set.files)
	b.aim(ofNginx >= set.nginx, "%s: %.2f of nginx (median; aim %.2f)", set.name, ofNginx, set.nginx)
	b.aim(slower <= mostLate, "%s: p99 %.2f of the file server's (median; aim up to %.2f)", set.name, slower, mostLate)
	last := all[2][len(all[2])-1]
	fmt.Fprintf(b.out, "          %.0f tiles/s, p99 %.1f ms in the last round\n", last.rate, last.p99.Seconds()*1000)
	return b.anonymous(servers[2])
}

// anonymous is the memory of a server that no file stands behind (Linux: proc(5), RssAnon).
func (b *bench) anonymous(s competitor) error {
	_, after, _ := strings.Cut(readOr(fmt.Sprintf("/proc/%d/status", s.cmd.Process.Pid), "RssAnon: 0"), "RssAnon:")
	var kib float64
	_, err := fmt.Sscan(after, &kib)
	b.aim(kib*1024/1e6 < mostAnonymous, "%.1f MB of anonymous memory (aim below %.0f MB)", kib*1024/1e6, mostAnonymous)
	return err
}

// rendered measures tiles beyond the zooms of the pack: the first time and again.
func (b *bench) rendered(ctx context.Context, ours competitor, s serveSizes) error {
	var rates []float64
	again := tileSet{zoom: benchZoom + 1, tiles: min(s.hot, 200)}
	for _, set := range []tileSet{{zoom: benchZoom, tiles: s.hot}, {zoom: benchZoom + 2, tiles: 16 * s.tiles}, again, again, {zoom: benchZoom - 2, tiles: s.tiles >> 4}} {
		m, err := b.wrk(ctx, ours, set, s.seconds)
		if err != nil {
			return err
		}
		rates = append(rates, m.rate)
	}
	b.aim(rates[1] >= leastEnlarged, "%.0f tiles/s enlarged for the first time (aim %.0f)", rates[1], leastEnlarged)
	b.aim(rates[3] >= leastOfHot*rates[0], "%.0f tiles/s enlarged before, %.2f of those as packed (aim %.2f)", rates[3], rates[3]/rates[0], leastOfHot)
	fmt.Fprintf(b.out, "          %.0f tiles/s shrunk from 16 each\n", rates[4])
	return b.anonymous(ours)
}

// firstTile waits for the first tile of a large pack, from the start of the process on.
func (b *bench) firstTile(ctx context.Context, program string, length int64) error {
	path := filepath.Join(b.dir, "large.mbtiles")
	if err := writeLargePack(ctx, path, length); err != nil {
		return err
	}
	var took []float64
	for range 5 {
		began := time.Now()
		s, err := startServer(ctx, "map:", program, "serve", path, "--listen", "127.0.0.1:0")
		if err != nil {
			return err
		}
		body, err := get(ctx, s.url+"/packs/large/tiles/"+benchTile(0).String()+".jpg")
		took = append(took, time.Since(began).Seconds())
		s.kill()
		if err == nil && len(body) == 0 {
			err = errors.New("the large pack has no first tile")
		}
		if err != nil {
			return err
		}
	}
	first := time.Duration(median(took) * float64(time.Second)).Round(100 * time.Microsecond)
	b.aim(first < mostFirst, "first tile of a pack of %.1f GB after %v, from the start of the process (aim %v)", float64(length)/1e9, first, mostFirst)
	return nil
}

const hiddenFiles = "bench-process-files"

// filesProcess is the hidden command that serves a folder with Go's file server.
func filesProcess() *cobra.Command {
	return &cobra.Command{Use: hiddenFiles + " DIR", Hidden: true, Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return err
		}
		fmt.Println("files: http://" + l.Addr().String())
		return http.Serve(l, http.FileServer(http.Dir(args[0]))) //nolint:gosec // loopback, and nobody else knows the port
	}}
}

func readOr(path, otherwise string) string {
	if text, err := os.ReadFile(path); err == nil {
		return string(text)
	}
	return otherwise
}

// tileSet is what wrk asks for in random order, and the aims of it.
type tileSet struct {
	name         string
	zoom         int // the pack has benchZoom alone
	tiles        int // of the same ground, row by row
	files, nginx float64
}

// measured is what wrk saw.
type measured struct {
	rate float64 // requests a second
	p99  time.Duration
}

// askScript asks for one of the tiles with each request; each thread of wrk has
// its own order.
const askScript = `local first, n, wide, zoom, before
local threads = 0
function setup(thread) thread:set("id", threads); threads = threads + 1 end
function init(args)
  before, zoom, first, n, wide = args[1], args[2], {tonumber(args[3]), tonumber(args[4])}, tonumber(args[5]), tonumber(args[6])
  math.randomseed(os.time() * 10 + id)
end
function request()
  local i = math.random(0, n - 1)
  return wrk.format("GET", before .. zoom .. "/" .. (first[1] + i % wide) .. "/" .. (first[2] + math.floor(i / wide)) .. ".jpg")
end
`

// wrk asks one server for some seconds. Anything but tiles is an error.
func (b *bench) wrk(ctx context.Context, s competitor, set tileSet, seconds int) (measured, error) {
	script := filepath.Join(b.dir, "ask.lua")
	if err := os.WriteFile(script, []byte(askScript), 0o644); err != nil {
		return measured{}, err
	}
	scale := func(n int) int { // from benchZoom to the set's
		if deeper := set.zoom - benchZoom; deeper >= 0 {
			return n << deeper
		}
		return n >> (benchZoom - set.zoom)
	}
	x, y, wide := scale(int(benchTile(0).X)), scale(int(benchTile(0).Y)), scale(benchWide)
	body, err := get(ctx, fmt.Sprintf("%s%s%d/%d/%d.jpg", s.url, s.before, set.zoom, x, y))
	if err == nil && len(body) == 0 { // wrk takes an empty answer for a good one
		err = fmt.Errorf("zoom %d: there is no tile", set.zoom)
	}
	if err != nil {
		return measured{}, err
	}
	c := exec.CommandContext(ctx, "wrk", "--threads", "2", "--connections", fmt.Sprint(wrkConnections), "--duration", fmt.Sprintf("%ds", seconds),
		"--timeout", "20s", "--latency",
		"--script", script, s.url, "--", s.before, fmt.Sprint(set.zoom), fmt.Sprint(x), fmt.Sprint(y), fmt.Sprint(set.tiles), fmt.Sprint(wide))
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	if err := c.Run(); err != nil {
		return measured{}, fmt.Errorf("wrk: %w (Debian: wrk): %s", err, out.String())
	}
	return readWrk(out.String())
}

var (
	wrkRate  = regexp.MustCompile(`Requests/sec:\s+([\d.]+)`)
	wrkLate  = regexp.MustCompile(`99%\s+([\d.]+)(us|ms|s|m)\b`)
	wrkWrong = regexp.MustCompile(`(?m)^\s*(Non-2xx.*|Socket errors.*)$`)
)

// readWrk reads what wrk prints.
func readWrk(text string) (m measured, err error) {
	if wrong := wrkWrong.FindString(text); wrong != "" {
		return m, errors.New(strings.TrimSpace(wrong))
	}
	rate, late := wrkRate.FindStringSubmatch(text), wrkLate.FindStringSubmatch(text)
	if rate == nil || late == nil {
		return m, fmt.Errorf("wrk says %q", text)
	}
	if m.rate, err = strconv.ParseFloat(rate[1], 64); err != nil {
		return m, err
	}
	m.p99, err = time.ParseDuration(late[1] + late[2])
	return m, err
}
