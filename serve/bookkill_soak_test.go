//go:build soak

package serve

func init() { kills = 200 }
