package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// deskInBrowser runs the scripts of the desk's page, each of which starts a desk of its own.
// Every one is run, whatever the one before came to.
func deskInBrowser(ctx context.Context, r repo) error {
	web, shots := r.path("serve", "web"), r.path(".cache", "desk")
	scripts, err := filepath.Glob(filepath.Join(web, "test", "desk", "*.mjs"))
	if err != nil {
		return err
	}
	if err := os.MkdirAll(shots, 0o755); err != nil {
		return err
	}
	var failed []error
	for _, script := range scripts {
		name := filepath.Base(script)
		if name == "harness.mjs" {
			continue
		}
		step("the desk: %s", name)
		if err := r.runIn(ctx, web, []string{"GROUNDSHEET=" + r.program()}, "node", script, "--shots", shots); err != nil {
			failed = append(failed, fmt.Errorf("%s: %w", name, err))
		}
	}
	return errors.Join(failed...)
}
