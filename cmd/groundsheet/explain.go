package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"groundsheet/pack"
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

// notFit is a check that failed. Its words have been said already.
type notFit struct{}

func (notFit) Error() string { return "not fit" }

// explain says what went wrong on stderr and gives the exit code.
func (a *app) explain(err error) int {
	code := exitCode(err)
	var said *worst
	switch {
	case err == nil || code == exitNotFit || errors.As(err, &said):
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
	var (
		noRoom  *pack.NoRoom
		unable  *pack.NotWritten
		several *worst
	)
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &several):
		return several.code
	case errors.Is(err, notFit{}):
		return exitNotFit
	case fault.IsOutside(err), errors.As(err, &noRoom), errors.As(err, &unable), errors.Is(err, context.Canceled):
		return exitOutside
	case isDisk(err):
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
