package practice

import "math"

// blend stands in for the houses and streets of towns where they are too small
// to be drawn one by one: it tints the ground with the mean colour of a block,
// by its use. It finds the block of one pixel after the other, cheaply.
type blend struct {
	col, row int
	found    bool
	use      use

	inside        [4]rgb
	mean, streets rgb
}

// newBlend sets the mean colour of the inside of a block over that of the bare
// ground, by use; then that of the streets. They are averages over 60 tiles of
// zoom 16, drawn whole.
func newBlend() *blend {
	b := &blend{streets: rgb{1.03, 0.99, 1.21}}
	b.inside = [4]rgb{homes: {1.01, 0.98, 1.04}, trade: {1.13, 1.07, 1.37}, park: {0.96, 0.96, 0.98}, vacant: {0.99, 0.99, 1}}
	for use, share := range useShares() {
		t := b.inside[use].times(float32(share))
		b.mean = rgb{b.mean.r + t.r, b.mean.g + t.g, b.mean.b + t.b}
	}
	return b
}

// streetShare is the share of a town that is streets and their verges.
const streetShare = 0.3

// tint is the tint at a place on the bent grid, in blocks. Shown says how far
// single blocks stand out from their mean, 0 to 1; bare adds the streets.
func (b *blend) tint(u, v float64, shown float32, bare bool) rgb {
	col, row := int(math.Floor(u)), int(math.Floor(v))
	if col != b.col || row != b.row || !b.found {
		b.col, b.row, b.found = col, row, true
		b.use, _ = useOf(col, row)
	}
	t := b.mean.toward(b.inside[b.use], shown)
	if bare {
		t = t.toward(b.streets, streetShare)
	}
	return t
}
