// Command dev holds the chores of the project: build, demo, test, bench, fuzz.
// It does all the set-up they need.
//
//	go run ./cmd/dev demo     the whole job on invented data, in a browser
//	go run ./cmd/dev test     every check there is
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

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
	said := &failures{to: os.Stdout}
	c.Dir, c.Stdout, c.Stderr = dir, os.Stdout, os.Stderr
	if at, err := os.Stdout.Stat(); err == nil && at.Mode()&os.ModeCharDevice == 0 { // on a terminal progress bars need it
		c.Stdout, c.WaitDelay = said, waitDelay
	}
	c.Env = append(os.Environ(), env...)
	return ran(c, said)
}

// waitDelay is how long what a program left running may keep its output open.
const waitDelay = 10 * time.Second

// beside runs programs side by side, and prints what each said in one piece.
func (r repo) beside(ctx context.Context, dir string, programs ...[]string) error {
	texts, failed := make([]bytes.Buffer, len(programs)), make([]error, len(programs))
	var running sync.WaitGroup
	for i, words := range programs {
		running.Go(func() {
			c := exec.CommandContext(ctx, words[0], words[1:]...)
			said := &failures{to: &texts[i]}
			c.Dir, c.Stdout, c.Stderr, c.WaitDelay = dir, said, said, waitDelay
			failed[i] = ran(c, said)
		})
	}
	running.Wait()
	for _, text := range texts {
		fmt.Print(text.String())
	}
	return errors.Join(failed...)
}

func ran(c *exec.Cmd, said *failures) error {
	if err := c.Run(); err != nil {
		return fmt.Errorf("%s: %w%s", strings.Join(c.Args, " "), err, said)
	}
	return nil
}

// failures hands on what a program says, and keeps the lines that name a test that failed.
type failures struct {
	to   io.Writer
	line []byte
	kept []string
}

// mostFailures is enough to see what is wrong.
const mostFailures = 12

func (f *failures) Write(b []byte) (int, error) {
	for _, c := range b {
		if c != '\n' {
			f.line = append(f.line, c)
			continue
		}
		if line := strings.TrimSpace(string(f.line)); len(f.kept) < mostFailures && (strings.HasPrefix(line, "FAIL ") || strings.HasPrefix(line, "--- FAIL")) {
			f.kept = append(f.kept, line)
		}
		f.line = f.line[:0]
	}
	return f.to.Write(b)
}

func (f *failures) String() string {
	if len(f.kept) == 0 {
		return ""
	}
	return "\n            " + strings.Join(f.kept, "\n            ")
}

func step(format string, args ...any) { fmt.Printf("\n== "+format+"\n", args...) }
