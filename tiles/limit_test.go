package tiles

import "testing"

// TestBoxLimit: the box of a run of tiles touches these tiles and no other,
// though its edges lie on seams (OGC 17-083r4, Annex I).
func TestBoxLimit(t *testing.T) {
	for zoom := range MaxZoom + 1 {
		n := uint32(1) << zoom
		want := Limit{Zoom: zoom, MinRow: n / 3, MaxRow: n / 2, MinCol: n / 5, MaxCol: n - 1}
		want.MaxRow = min(want.MaxRow, n-1)
		box := ID{uint32(zoom), want.MinCol, want.MinRow}.Bounds().Join(ID{uint32(zoom), want.MaxCol, want.MaxRow}.Bounds())
		if got := box.Limit(zoom); got != want {
			t.Errorf("zoom %d: %+v, want %+v", zoom, got, want)
		}
	}
	world := Box{-180, -90, 180, 90}
	if got := world.Limit(3); got != (Limit{Zoom: 3, MaxRow: 7, MaxCol: 7}) {
		t.Errorf("the world: %+v", got)
	}
	point := Box{-105.0005, 40.0005, -105.0005, 40.0005}
	at := At(-105.0005, 40.0005, 17)
	l := point.Limit(17)
	if l != (Limit{17, at.Y, at.Y, at.X, at.X}) || !l.Has(at) {
		t.Errorf("a point: %+v", l)
	}
	for _, off := range []ID{{16, at.X, at.Y}, {17, at.X + 1, at.Y}, {17, at.X - 1, at.Y}, {17, at.X, at.Y + 1}, {17, at.X, at.Y - 1}} {
		if l.Has(off) {
			t.Errorf("%v lies outside", off)
		}
	}
}
