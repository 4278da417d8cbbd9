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
		dir: t.TempDir(), exe: exe, out: &out, tiles: 200, rounds: 2, seconds: 1,
		rates: []int{50}, connections: []int{4}, memory: []int{100, 200},
	}
	if err := b.run(t.Context()); err != nil {
		t.Fatal(err, out.String())
	}
	for _, want := range []string{"of curl to nothing", "of curl to files", "MB resident", "4 connections", "the server saw", "in any one second", "200 tiles:"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("nothing of %q in\n%s", want, out.String())
		}
	}
}
