package plainmap

import (
	"testing"

	"groundsheet/tiles"
)

// BenchmarkTile draws one tile out of 50,000 shapes, and BenchmarkNames places the
// names of its block.
func BenchmarkTile(b *testing.B) {
	m := New(country(1, 50_000))
	id := tiles.ID{Z: home.Z, X: home.X + 3, Y: home.Y + 3}
	for b.Loop() {
		m.Draw(id, 256, nil)
	}
}

func BenchmarkNames(b *testing.B) {
	m := New(country(1, 50_000))
	for b.Loop() {
		m.Names(home, 8, 256)
	}
}
