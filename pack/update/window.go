package update

import (
	"errors"
	"io"
)

// window gives pieces of a large file without holding it. A read that fails is kept in
// err, and gives nothing from then on.
type window struct {
	f    io.ReaderAt
	size int64
	from int64 // of buf in the file
	buf  []byte
	err  error
}

// Sizes of a window in bytes: how much it holds, and how much of that lies before what was
// asked for, since matches grow backwards too.
const (
	held   = 1 << 20
	before = held / 16
)

// at gives n bytes at a place, fewer at the end of the file. They hold until the next
// call.
func (w *window) at(off int64, n int) []byte {
	n = int(min(int64(n), w.size-off))
	if w.err != nil || off < 0 || n <= 0 {
		return nil
	}
	if off < w.from || off+int64(n) > w.from+int64(len(w.buf)) {
		w.fill(off, n)
	}
	if w.err != nil {
		return nil
	}
	return w.buf[off-w.from:][:n]
}

func (w *window) fill(off int64, n int) {
	if cap(w.buf) < held {
		w.buf = make([]byte, held)
	}
	w.from = max(0, off-before)
	w.buf = w.buf[:min(int64(cap(w.buf)), w.size-w.from)]
	got, err := w.f.ReadAt(w.buf, w.from)
	if got < len(w.buf) || err != nil && !errors.Is(err, io.EOF) {
		w.err = errors.Join(err, io.ErrUnexpectedEOF)
	}
}

// common is how many bytes two places of two files have in common, most at most.
func common(a *window, atA int64, b *window, atB int64, most int64) (n int64) {
	const step = held / 4
	for n < most {
		x, y := a.at(atA+n, int(min(step, most-n))), b.at(atB+n, int(min(step, most-n)))
		same := prefix(x, y)
		n += int64(same)
		if same < step {
			return n
		}
	}
	return n
}

// prefix is how many bytes two texts begin alike with.
func prefix(x, y []byte) int {
	n := min(len(x), len(y))
	for i := range n {
		if x[i] != y[i] {
			return i
		}
	}
	return n
}
