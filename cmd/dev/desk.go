package main

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
)

// deskParts are no tests themselves: what the tests of the desk share.
var deskParts = []string{"harness.mjs", "journey.mjs"}

// deskTests runs the desk in browsers, one test after the other; each starts desks of its
// own on folders of its own.
func deskTests(ctx context.Context, r repo) error {
	files, err := filepath.Glob(r.path("serve", "web", "test", "desk", "*.mjs"))
	if err != nil {
		return err
	}
	if len(files) <= len(deskParts) {
		return errors.New("there are no tests of the desk")
	}
	var failed []error
	for _, file := range files {
		if slices.Contains(deskParts, filepath.Base(file)) {
			continue
		}
		step("desk: %s", filepath.Base(file))
		failed = append(failed, r.runIn(ctx, r.path("serve", "web"), []string{"GROUNDSHEET=" + r.program()}, "node",
			"--experimental-websocket", "--no-warnings", file, "--shots", r.path(".cache", "shots")))
	}
	return errors.Join(failed...)
}
