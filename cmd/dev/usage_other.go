//go:build !unix

package main

import "os"

func usage(*os.ProcessState) (peak, written float64) { return 0, 0 }

func childMemory() float64 { return 0 }
