//go:build !windows

package main

func doubleClicked() bool { return false } // it has no window of its own
func keepWindow()         {}
func readyScreen()        {}
