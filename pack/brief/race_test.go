//go:build race

package brief

func init() { perInch = 50 }
