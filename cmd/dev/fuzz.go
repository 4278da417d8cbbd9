package main

import (
	"bufio"
	"bytes"
	"context"
	"os"
	"os/exec"
	"strings"

	"github.com/spf13/cobra"
)

func fuzzCommand() *cobra.Command {
	var each string
	c := &cobra.Command{
		Use: "fuzz", Short: "Run every fuzz target for a while", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return withRoot(c.Context(), func(ctx context.Context, r repo) error { return fuzz(ctx, r, each) })
		},
	}
	c.Flags().StringVar(&each, "each", "30s", "time for each target")
	return c
}

func fuzz(ctx context.Context, r repo, each string) error {
	packages, err := r.output(ctx, "go", "list", "./...")
	if err != nil {
		return err
	}
	for _, pkg := range packages {
		targets, err := r.output(ctx, "go", "test", "-list", "^Fuzz", pkg)
		if err != nil {
			return err
		}
		for _, t := range targets {
			if !strings.HasPrefix(t, "Fuzz") {
				continue
			}
			step("%s %s for %s", pkg, t, each)
			if err := r.run(ctx, "go", "test", "-run", "^$", "-fuzz", "^"+t+"$", "-fuzztime", each, "-fuzzminimizetime", "5x", pkg); err != nil {
				return err
			}
		}
	}
	return nil
}

// output gives the lines that a command prints.
func (r repo) output(ctx context.Context, name string, args ...string) ([]string, error) {
	c := exec.CommandContext(ctx, name, args...)
	c.Dir, c.Stderr = r.root, os.Stderr
	out, err := c.Output()
	var lines []string
	for s := bufio.NewScanner(bytes.NewReader(out)); s.Scan(); {
		lines = append(lines, s.Text())
	}
	return lines, err
}
