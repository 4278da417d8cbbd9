package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// spent is what one measured process took.
type spent struct {
	wall, cpu time.Duration
	peak      float64 // MB resident; 0 = not known
}

// timed runs a command from its start to its end. What earlier runs wrote is on
// the disk first, so that nobody pays for another's writing.
func timed(c *exec.Cmd) (spent, error) {
	_ = exec.CommandContext(context.Background(), "sync").Run() // where there is none the figures are noisier
	var complaint bytes.Buffer
	c.Stderr = &complaint
	began := time.Now()
	err := c.Run()
	took := spent{wall: time.Since(began)}
	if err != nil {
		return took, fmt.Errorf("%s: %w: %s", filepath.Base(c.Path), err, strings.TrimSpace(complaint.String()))
	}
	took.cpu = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	return took, nil
}

func (b *fetchBench) curlAway(ctx context.Context, url string) (spent, error) {
	return b.curl(ctx, url, func(int) string { return os.DevNull })
}

func (b *fetchBench) curlFiles(ctx context.Context, url string) (spent, error) {
	dir := filepath.Join(b.dir, "files")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return spent{}, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // the whole scratch folder goes at the end
	took, err := b.curl(ctx, url, func(n int) string { return filepath.Join(dir, fmt.Sprint(n, ".jpg")) })
	if err != nil {
		return took, err
	}
	if all, err := os.ReadDir(dir); err != nil || len(all) != b.tiles {
		return took, errors.Join(fmt.Errorf("curl wrote %d files", len(all)), err)
	}
	return took, nil
}

// curl asks for every tile; the addresses are in a config file.
func (b *fetchBench) curl(ctx context.Context, url string, output func(int) string) (spent, error) {
	var config bytes.Buffer
	for n := range b.tiles {
		fmt.Fprintf(&config, "url = \"%s/%s.jpg\"\noutput = \"%s\"\n", url, benchTile(n), filepath.ToSlash(output(n)))
	}
	path := filepath.Join(b.dir, "curl.config")
	if err := os.WriteFile(path, config.Bytes(), 0o644); err != nil {
		return spent{}, err
	}
	return timed(exec.CommandContext(ctx, "curl", "--silent", "--show-error", "--fail", "--parallel", "--parallel-max", fmt.Sprint(curlParallel), "--config", path))
}

// fetched is what a process of ours that fetched reports, and what it took.
type fetched struct {
	New     int     // tiles kept
	Seconds float64 // of fetching alone
	PeakMB  float64 // resident; 0 = not known
	spent   `json:"-"`
}

// fetch runs a task in a process of its own, so that its processor time and
// its memory are no one else's.
func (b *fetchBench) fetch(ctx context.Context, t fetchTask) (fetched, error) {
	t.Store = filepath.Join(b.dir, "store")
	if err := os.RemoveAll(t.Store); err != nil {
		return fetched{}, err
	}
	defer os.RemoveAll(t.Store) //nolint:errcheck // the whole scratch folder goes at the end
	task, err := json.Marshal(t)
	if err != nil {
		return fetched{}, err
	}
	c := exec.CommandContext(ctx, b.exe, hiddenFetch, string(task))
	var out bytes.Buffer
	c.Stdout = &out
	var got fetched
	took, err := timed(c)
	if err != nil {
		return got, err
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		return got, fmt.Errorf("%w in %q", err, out.String())
	}
	got.spent = took
	got.peak = got.PeakMB
	return got, nil
}

// background is a server in a process of its own.
type background struct {
	cmd *exec.Cmd
	url string
}

func (s *background) stop() error {
	if err := s.cmd.Process.Kill(); err != nil {
		return err
	}
	return s.cmd.Wait()
}

// startServer starts the server of the bench; it prints its address.
func (b *fetchBench) startServer(ctx context.Context, delay time.Duration) (*background, error) {
	return startChild(ctx, b.exe, hiddenServer, delay.String())
}

// startChild starts a server that prints its address.
func startChild(ctx context.Context, exe string, args ...string) (*background, error) {
	c := exec.CommandContext(ctx, exe, args...)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.Start(); err != nil {
		return nil, err
	}
	s := &background{cmd: c}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		return nil, fmt.Errorf("the server did not start: %w", err)
	}
	s.url = strings.TrimSpace(line)
	return s, nil
}
