// Command groundsheet turns a dig job into a site pack and serves it where
// there is no signal.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"groundsheet/tiles/fault"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends it at once
	readyScreen()
	words := os.Args[1:]
	window := len(words) == 0 && doubleClicked()
	if window {
		words = []string{"desk"}
	}
	code := run(ctx, words, os.Stdout, os.Stderr)
	if window && code != exitDone {
		keepWindow()
	}
	os.Exit(code)
}

// run is the whole program: arguments in, words and an exit code out.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return (&app{out: stdout, err: stderr}).run(ctx, args)
}

func (a *app) run(ctx context.Context, args []string) int {
	defer a.plain()()
	root := a.command()
	root.SetArgs(args)
	root.SetOut(a.out)
	root.SetErr(a.err)
	return a.explain(root.ExecuteContext(ctx))
}

const long = `groundsheet prepares a site pack for a crew that finds and records buried lines:
the base map, sharp enough and proved complete, with what is already recorded
under the ground, served to every phone on the crew's hotspot with no internet.

  new → plan → pack → check → brief → serve → collect → handover
                 refresh · prune · store · desk · archive

A map or a depth reading never replaces the one-call marks, local law or
licensed practice. Dig by hand near a mark.

Distances take a unit (50ft, 24in, 15m, 0.5mi), sizes too (2GB).
Exit codes: 0 done · 1 the job is not fit · 2 wrong use or bad input ·
3 the outside failed (network, disk).`

// release and commit are set where a release is built (cmd/dev/release.go).
var release, commit string

// version is the release, or what the build recorded.
func version() string {
	if release != "" {
		return release + " (" + commit + ")"
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return info.Main.Version + " (" + s.Value[:min(12, len(s.Value))] + ")"
		}
	}
	return info.Main.Version
}

func (a *app) command() *cobra.Command {
	cobra.MousetrapHelpText = "" // a double click opens the desk
	root := &cobra.Command{
		Use: "groundsheet", Version: version(), Short: "Prepare a dig job's map for where there is no signal", Long: long,
		SilenceUsage: true, SilenceErrors: true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	f := root.PersistentFlags()
	f.StringVar(&a.storeAt, "store", "", "office store: a folder, or postgres://USER@HOST/DATABASE (else $GROUNDSHEET_STORE, else a folder in the user cache folder)")
	f.StringVar(&a.sourcesFile, "sources", "",
		"sources file (else sources.toml in the job folder, else in the user config folder)")
	f.BoolVar(&a.quiet, "quiet", false, "no progress")
	f.BoolVar(&a.logJSON, "log-json", false, "progress and messages as JSON lines")
	root.AddCommand(a.newCommand(), a.planCommand(), a.packCommand(), a.checkCommand(), a.briefCommand(), a.copyCommand(), a.serveCommand(),
		a.sourceCommand(), a.storeCommand(), a.refreshCommand(), a.pruneCommand(), a.recordCommand(), a.deskCommand(),
		a.archiveCommand(), a.collectCommand(), a.updateCommand(), a.applyCommand())
	root.AddCommand(a.changesCommand(), a.manualCommand())
	root.AddCommand(a.handoverCommand())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return wrongUse(err.Error(), "see: "+c.CommandPath()+" --help")
	})
	return root
}

// Exit codes.
const (
	exitDone    = 0
	exitNotFit  = 1
	exitUse     = 2
	exitOutside = 3
)

// wrongUse is a call that cannot be carried out as it is written.
func wrongUse(what, remedy string) error { return &fault.Fault{Detail: what, Remedy: remedy} }

// exitStatus is an exit code whose reason has been printed already.
type exitStatus int

func (s exitStatus) Error() string { return fmt.Sprintf("exit status %d", int(s)) }

// notFit is a check that failed.
const notFit = exitStatus(exitNotFit)

// explain says what went wrong on stderr and gives the exit code.
func (a *app) explain(err error) int {
	code := exitCode(err)
	var printed exitStatus
	switch {
	case err == nil || errors.As(err, &printed):
	case a.logJSON:
		a.log().Error(err.Error(), "exit", code)
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(a.err, "groundsheet: stopped. Nothing is lost; run the same command again to go on.")
	default:
		fmt.Fprintln(a.err, "groundsheet: "+strings.TrimSpace(err.Error()))
	}
	return code
}

func exitCode(err error) int {
	var printed exitStatus
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &printed):
		return int(printed)
	case fault.IsOutside(err), errors.Is(err, context.Canceled), isDisk(err):
		return exitOutside
	}
	return exitUse
}

// isDisk tells a disk that fails from a file that was named wrongly.
func isDisk(err error) bool {
	for _, named := range []error{fs.ErrNotExist, fs.ErrExist, syscall.ENOTDIR, syscall.EISDIR, syscall.ENAMETOOLONG} {
		if errors.Is(err, named) {
			return false
		}
	}
	var number syscall.Errno
	return errors.As(err, &number)
}
