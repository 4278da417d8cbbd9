package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

const wrkConnections = 64

// tileSet is what wrk asks for in no order, and what its rates are held against.
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
func (b *serveBench) wrk(ctx context.Context, s asked, set tileSet) (measured, error) {
	script := filepath.Join(b.dir, "ask.lua")
	if err := os.WriteFile(script, []byte(askScript), 0o644); err != nil {
		return measured{}, err
	}
	first, wide := benchTile(0), benchWide
	x, y := int(first.X), int(first.Y)
	if deeper := set.zoom - benchZoom; deeper >= 0 {
		x, y, wide = x<<deeper, y<<deeper, wide<<deeper
	} else {
		x, y, wide = x>>-deeper, y>>-deeper, wide>>-deeper
	}
	// wrk takes an empty answer for a good one.
	body, err := get(ctx, fmt.Sprintf("%s%s%d/%d/%d.jpg", s.server.url, s.before, set.zoom, x, y))
	if err == nil && len(body) == 0 {
		err = fmt.Errorf("zoom %d: there is no tile", set.zoom)
	}
	if err != nil {
		return measured{}, err
	}
	c := exec.CommandContext(ctx, "wrk", "--threads", "2", "--connections", fmt.Sprint(wrkConnections), "--duration", fmt.Sprintf("%ds", b.seconds),
		"--timeout", "20s", "--latency", "--script", script, s.server.url, "--", s.before, fmt.Sprint(set.zoom), fmt.Sprint(x), fmt.Sprint(y), fmt.Sprint(set.tiles), fmt.Sprint(wide))
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

// anonymousMB is the memory of a process that no file stands behind (Linux:
// proc(5), RssAnon).
func anonymousMB(pid int) (float64, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	_, after, _ := bytes.Cut(text, []byte("RssAnon:"))
	var kib float64
	_, err = fmt.Sscan(string(after), &kib)
	return kib * 1024 / 1e6, err
}

// load says how busy the machine is, where it tells.
func load() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "load unknown"
	}
	one, _, _ := strings.Cut(string(text), " ")
	return "load before " + one
}
