//go:build linux && soak

package fieldbook

func init() { cuts = 300 }
