package fetch

import (
	"bytes"
	"testing"
)

// TestBufferPool: a buffer has the room that was asked for, and only whole ones are
// taken back.
func TestBufferPool(t *testing.T) {
	var p bufferPool
	for _, n := range []int{-1, 0, 1, bufferStep - 1, bufferStep, bufferStep + 1, largestBuffer, largestBuffer + 1, 1 << 20} {
		for range 2 { // the second may be the first one again
			b := p.get(n)
			if b.Len() != 0 || b.Cap() < n {
				t.Errorf("get(%d): %d bytes, room for %d", n, b.Len(), b.Cap())
			}
			b.Write(bytes.Repeat([]byte{1}, max(n, 0)))
			p.put(b.Bytes())
		}
	}
	p.put(nil)
	p.put([]byte{1, 2, 3})
	if b := p.get(4); b.Cap() < bufferStep {
		t.Errorf("a buffer of %d bytes was taken back", b.Cap())
	}
}

// TestFitted: what was read into a large buffer takes a small one while it waits.
func TestFitted(t *testing.T) {
	var p bufferPool
	for _, n := range []int{0, 1, 5000, largestBuffer - 100, largestBuffer + 100} {
		read := p.get(bufferSize(-1))
		want := bytes.Repeat([]byte{byte(n)}, n)
		read.Write(want)
		got := p.fitted(read)
		p.get(largestBuffer).Write(bytes.Repeat([]byte{7}, largestBuffer)) // the large one, used again
		if !bytes.Equal(got, want) || n <= largestBuffer && cap(got) > n+bufferStep {
			t.Errorf("%d bytes: %d bytes with room for %d", n, len(got), cap(got))
		}
	}
}
