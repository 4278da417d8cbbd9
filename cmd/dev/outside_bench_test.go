//go:build outside

package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// TestOutsideBenchFetch runs the bench with few tiles, so that it goes on
// working. Whether the aims hold means nothing at this size.
func TestOutsideBenchFetch(t *testing.T) {
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("GROUNDSHEET_AS_DEV", "1") // for the processes that the bench starts
	var out bytes.Buffer
	b := &fetchBench{
		dir: t.TempDir(), exe: exe, tiles: 200, rounds: 2, seconds: 1,
		rates: []int{50}, connections: []int{4}, memory: []int{100, 200}, aims: aims{out: &out},
	}
	if err := b.run(t.Context()); err != nil {
		t.Fatal(err, out.String())
	}
	for _, want := range []string{"of curl to nothing", "a bare loop that proves nothing", "of curl to files", "MB resident", "4 connections", "the server saw", "in any one second", "200 tiles:"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("nothing of %q in\n%s", want, out.String())
		}
	}
}

// TestOutsideBenchServe runs the bench of serving with few tiles.
func TestOutsideBenchServe(t *testing.T) {
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("GROUNDSHEET_AS_DEV", "1")
	var out bytes.Buffer
	b := &serveBench{dir: t.TempDir(), exe: exe, tiles: 200, hot: 20, rounds: 1, seconds: 1, large: 64 << 20, aims: aims{out: &out}}
	if err := b.run(t.Context()); err != nil {
		t.Fatal(err, out.String())
	}
	for _, want := range []string{"hot set", "uniformly random", "of the file server", "of nginx", "p99", "anonymous", "first tile", "enlarged", "shrunk"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("nothing of %q in\n%s", want, out.String())
		}
	}
}
