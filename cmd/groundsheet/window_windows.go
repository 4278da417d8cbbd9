package main

import (
	"bufio"
	"fmt"
	"os"
	"syscall"

	"github.com/inconshreveable/mousetrap"
)

// doubleClicked tells a program that Explorer started, in a window that closes with it.
func doubleClicked() bool { return mousetrap.StartedByExplorer() }

// keepWindow lets what was said last be read.
func keepWindow() {
	fmt.Fprintln(os.Stderr, "press Enter to close this window")
	_, _ = bufio.NewReader(os.Stdin).ReadString('\n') // whatever comes, it closes
}

var setConsoleMode = syscall.NewLazyDLL("kernel32.dll").NewProc("SetConsoleMode")

// readyScreen has the console understand colors; older ones do not, and show them as signs.
func readyScreen() {
	const virtualTerminal = 0x0004 // ENABLE_VIRTUAL_TERMINAL_PROCESSING
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		var mode uint32
		if syscall.GetConsoleMode(syscall.Handle(f.Fd()), &mode) == nil {
			_, _, _ = setConsoleMode.Call(f.Fd(), uintptr(mode|virtualTerminal))
		}
	}
}
