package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
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
)

// serveBench measures serving against other servers of the same tiles. Only
// ratios within one run mean something.
type serveBench struct {
	dir, exe string // scratch folder; this program, whose hidden commands are measured
	tiles    int
	hot      int // tiles that a crew looks at
	rounds   int
	seconds  int   // that one measurement takes
	large    int64 // bytes of the pack whose first tile is waited for
	pack     string
	aims
}

// asked is one server and how its tiles are addressed.
type asked struct {
	name   string
	server *background
	before string // what stands before Z/X/Y.jpg in the path
}

func (b *serveBench) run(ctx context.Context) error {
	if err := os.RemoveAll(b.dir); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir) //nolint:errcheck // what cannot be removed is removed by the next run
	fmt.Fprintf(b.out, "making %d tiles, as files and as a pack\n", b.tiles)
	mean, err := writeTiles(filepath.Join(b.dir, "tiles"), b.tiles)
	if err != nil {
		return err
	}
	b.pack = filepath.Join(b.dir, "bench.mbtiles")
	if err := writeBenchPack(ctx, b.pack, b.tiles); err != nil {
		return err
	}
	servers, err := b.start(ctx)
	for _, s := range servers {
		defer s.server.stop() //nolint:errcheck // killed on purpose
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(b.out, "%d JPEG tiles of %.1f KB on average, wrk on loopback with %d connections, %s\n", b.tiles, mean/1000, wrkConnections, load())
	for _, set := range []tileSet{
		{name: fmt.Sprintf("hot set of %d", b.hot), zoom: benchZoom, tiles: b.hot, files: leastOfFilesHot, nginx: leastOfNginxHot},
		{name: "uniformly random", zoom: benchZoom, tiles: b.tiles, files: leastOfFilesUniform, nginx: leastOfNginxUniform},
	} {
		if err := b.compare(ctx, servers, set); err != nil {
			return err
		}
	}
	if err := b.madeTiles(ctx, servers[len(servers)-1]); err != nil {
		return err
	}
	return b.firstTile(ctx)
}

// start starts all three; ours is the last.
func (b *serveBench) start(ctx context.Context) ([]asked, error) {
	nginx, err := startNginx(ctx, b.dir)
	if err != nil {
		return nil, err
	}
	all := []asked{{"nginx", nginx, "/"}}
	files, err := startChild(ctx, b.exe, hiddenFiles, filepath.Join(b.dir, "tiles"))
	if err != nil {
		return all, err
	}
	all = append(all, asked{"files", files, "/"})
	ours, err := startChild(ctx, b.exe, hiddenField, b.pack)
	if err != nil {
		return all, err
	}
	return append(all, asked{"ours", ours, "/packs/bench/tiles/"}), nil
}

// compare measures in rounds, in turning order, so that a slow minute of the
// machine meets all three. The first round only warms up.
func (b *serveBench) compare(ctx context.Context, servers []asked, set tileSet) error {
	fmt.Fprintf(b.out, "%s, requests/s and p99\nround %16s %20s %20s\n", set.name, "nginx", "file server", "ours")
	var ofNginx, ofFiles, late []float64
	for round := range b.rounds + 1 {
		got := make([]measured, len(servers))
		for i := range servers {
			which := (i + round) % len(servers)
			var err error
			if got[which], err = b.wrk(ctx, servers[which], set); err != nil {
				return fmt.Errorf("%s: %w", servers[which].name, err)
			}
		}
		if round == 0 {
			continue
		}
		fmt.Fprintf(b.out, "%5d", round)
		for _, m := range got {
			fmt.Fprintf(b.out, " %9.0f %7.1f ms", m.rate, m.p99.Seconds()*1000)
		}
		fmt.Fprintln(b.out)
		nginx, files, ours := got[0], got[1], got[2]
		ofNginx, ofFiles = append(ofNginx, ours.rate/nginx.rate), append(ofFiles, ours.rate/files.rate)
		late = append(late, ours.p99.Seconds()/files.p99.Seconds())
	}
	b.aim(median(ofFiles) >= set.files, "%s: %.2f of the file server (median; aim %.2f)", set.name, median(ofFiles), set.files)
	b.aim(median(ofNginx) >= set.nginx, "%s: %.2f of nginx (median; aim %.2f)", set.name, median(ofNginx), set.nginx)
	b.aim(median(late) <= mostLate, "%s: p99 %.2f of the file server's (median; aim up to %.2f)", set.name, median(late), mostLate)
	return b.anonymous(servers[len(servers)-1])
}

func (b *serveBench) anonymous(s asked) error {
	mb, err := anonymousMB(s.server.cmd.Process.Pid)
	if err != nil {
		return err
	}
	b.aim(mb < mostAnonymous, "%.1f MB of anonymous memory (aim below %.0f MB)", mb, mostAnonymous)
	return nil
}

// madeTiles measures tiles beyond the zooms of the pack: made when they are asked
// for, and asked for again.
func (b *serveBench) madeTiles(ctx context.Context, ours asked) error {
	packed, err := b.wrk(ctx, ours, tileSet{zoom: benchZoom, tiles: b.hot})
	if err != nil {
		return err
	}
	cold, err := b.wrk(ctx, ours, tileSet{zoom: benchZoom + 2, tiles: 16 * b.tiles})
	if err != nil {
		return err
	}
	b.aim(cold.rate >= leastEnlarged, "%.0f tiles/s enlarged, none made before (aim %.0f)", cold.rate, leastEnlarged)
	again := tileSet{zoom: benchZoom + 1, tiles: min(b.hot, 200)}
	if _, err := b.wrk(ctx, ours, again); err != nil {
		return err
	}
	hot, err := b.wrk(ctx, ours, again)
	if err != nil {
		return err
	}
	b.aim(hot.rate >= leastOfHot*packed.rate, "%.0f tiles/s enlarged before, %.2f of those as packed (aim %.2f)", hot.rate, hot.rate/packed.rate, leastOfHot)
	for up := 1; up <= 2; up++ {
		shrunk, err := b.wrk(ctx, ours, tileSet{zoom: benchZoom - up, tiles: b.tiles >> (2 * up)})
		if err != nil {
			return err
		}
		fmt.Fprintf(b.out, "          %.0f tiles/s shrunk from %d each, over %d places\n", shrunk.rate, 1<<(2*up), b.tiles>>(2*up))
	}
	return b.anonymous(ours)
}

// firstTile waits for the first tile of a large pack, from the start of the
// process on.
func (b *serveBench) firstTile(ctx context.Context) error {
	path := filepath.Join(b.dir, "large.mbtiles")
	if err := writeLargePack(ctx, path, b.large); err != nil {
		return err
	}
	var took []float64
	for range 5 {
		began := time.Now()
		s, err := startChild(ctx, b.exe, hiddenField, path)
		if err != nil {
			return err
		}
		body, err := get(ctx, s.url+"/packs/large/tiles/"+benchTile(0).String()+".jpg")
		took = append(took, time.Since(began).Seconds())
		if err := errors.Join(err, killed(s)); err != nil {
			return err
		}
		if len(body) == 0 {
			return errors.New("the large pack has no first tile")
		}
	}
	first := time.Duration(median(took) * float64(time.Second)).Round(100 * time.Microsecond)
	b.aim(first < mostFirst, "first tile of a pack of %.1f GB after %v, from the start of the process (aim %v)", float64(b.large)/1e9, first, mostFirst)
	return nil
}

// killed ends a child; how it ends does not matter.
func killed(s *background) error {
	if err := s.cmd.Process.Kill(); err != nil {
		return err
	}
	_ = s.cmd.Wait() // "signal: killed"
	return nil
}
