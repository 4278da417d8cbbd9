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
		failed = append(failed, deskTest(ctx, r, filepath.Base(file)))
	}
	return errors.Join(failed...)
}

func deskTest(ctx context.Context, r repo, file string, flags ...string) error {
	step("desk: %s", file)
	args := append([]string{"--experimental-websocket", "--no-warnings", r.path("serve", "web", "test", "desk", file), "--shots", r.path(".cache", "shots")}, flags...)
	return r.runIn(ctx, r.path("serve", "web"), []string{"GROUNDSHEET=" + r.program()}, "node", args...)
}

// benchDesk measures the longest pieces of work of the desk's page.
func benchDesk(ctx context.Context, r repo) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	return errors.Join(deskTest(ctx, r, "corners.mjs", "--bench"), deskTest(ctx, r, "many.mjs", "--bench"),
		deskTest(ctx, r, "person.mjs", "--bench"))
}
