package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"groundsheet/tiles/fault"
)

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
