// Command dev holds the chores of the project: build, demo, test, bench, fuzz.
// It does all the set-up they need.
//
//	go run ./cmd/dev demo     the whole job on invented data, in a browser
//	go run ./cmd/dev test     every check there is
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := command().ExecuteContext(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "dev:", err)
		stop()
		os.Exit(1) //nolint:gocritic // stop has run
	}
}

func command() *cobra.Command {
	root := &cobra.Command{
		Use: "dev", Short: "Chores of groundsheet", SilenceUsage: true, SilenceErrors: true,
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
	}
	root.AddCommand(demoCommand(), testCommand(),
		&cobra.Command{
			Use: "build", Short: "Build the map page and bin/groundsheet", Args: cobra.NoArgs,
			RunE: func(c *cobra.Command, _ []string) error { return withRoot(c.Context(), build) },
		},
		benchCommand(), fuzzCommand(), picturesCommand(), releaseCommand(), soakCommand())
	root.AddCommand(fetchProcess(), filesProcess())
	return root
}

// repo is the checkout that the chores work on.
type repo struct{ root string }

// withRoot finds the checkout from where the command was started.
func withRoot(ctx context.Context, do func(context.Context, repo) error) error {
	out, err := exec.CommandContext(ctx, "go", "env", "GOMOD").Output()
	mod := strings.TrimSpace(string(out))
	if err != nil || filepath.Base(mod) != "go.mod" {
		return errors.New("run this inside the checkout: go run ./cmd/dev …")
	}
	return do(ctx, repo{filepath.Dir(mod)})
}

func (r repo) path(parts ...string) string {
	return filepath.Join(append([]string{r.root}, parts...)...)
}

func (r repo) run(ctx context.Context, name string, args ...string) error {
	return r.runIn(ctx, r.root, nil, name, args...)
}

func (r repo) runIn(ctx context.Context, dir string, env []string, name string, args ...string) error {
	c := exec.CommandContext(ctx, name, args...)
	c.Dir, c.Stdout, c.Stderr = dir, os.Stdout, os.Stderr
	c.Env = append(os.Environ(), env...)
	if err := c.Run(); err != nil {
		return fmt.Errorf("%s %s: %w", name, strings.Join(args, " "), err)
	}
	return nil
}

func step(format string, args ...any) { fmt.Printf("\n== "+format+"\n", args...) }
