package fetch

import (
	"bytes"
	"testing"
)

// TestRooms: a buffer has the room that was asked for, and only whole ones are
// taken back.
func TestRooms(t *testing.T) {
	var r rooms
	for _, n := range []int{-1, 0, 1, roomStep - 1, roomStep, roomStep + 1, largestRoom, largestRoom + 1, 1 << 20} {
		for range 2 { // the second may be the first one again
			b := r.take(n)
			if b.Len() != 0 || b.Cap() < n {
				t.Errorf("take(%d): %d bytes, room for %d", n, b.Len(), b.Cap())
			}
			b.Write(bytes.Repeat([]byte{1}, max(n, 0)))
			r.giveBack([][]byte{b.Bytes()})
		}
	}
	r.giveBack([][]byte{nil, {1, 2, 3}})
	if b := r.take(4); b.Cap() < roomStep {
		t.Errorf("a buffer of %d bytes was taken back", b.Cap())
	}
}

// TestFitted: what was read into a large buffer takes a small one while it waits.
func TestFitted(t *testing.T) {
	var r rooms
	for _, n := range []int{0, 1, 5000, largestRoom - 100, largestRoom + 100} {
		read := r.take(roomFor(-1))
		want := bytes.Repeat([]byte{byte(n)}, n)
		read.Write(want)
		got := r.fitted(read)
		r.take(largestRoom).Write(bytes.Repeat([]byte{7}, largestRoom)) // the large one, used again
		if !bytes.Equal(got, want) || n <= largestRoom && cap(got) > n+roomStep {
			t.Errorf("%d bytes: %d bytes with room for %d", n, len(got), cap(got))
		}
	}
}
