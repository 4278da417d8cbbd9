package update

import (
	"bytes"
	"compress/flate"
	"context"
	"encoding/binary"
	"errors"
	"io"
)

// pieces writes what of b is not in a.
func pieces(ctx context.Context, a, b *window, to io.Writer) error {
	z := newDeflate(to)
	d := &differ{ctx: ctx, old: a, new: b, out: z, size: blockSize(a.size)}
	d.power = 1
	for range d.size - 1 {
		d.power *= base
	}
	d.list()
	d.run()
	return errors.Join(d.err, a.err, b.err, z.Close())
}

func newDeflate(to io.Writer) *flate.Writer {
	z, _ := flate.NewWriter(to, flate.BestCompression) // it knows this level
	return z
}

// Limits of what a search costs: a block is as small as one can be for so many of them
// (the project's own choice, no source).
const (
	leastBlock = 1 << 10
	mostBlocks = 2 << 20
)

func blockSize(size int64) int {
	n := int64(leastBlock)
	for size/n > mostBlocks {
		n *= 2
	}
	return int(n)
}

// differ finds in an older file what a newer one holds: by a hash that rolls over the newer
// one, and, where a few bytes differ in their place, by looking a little further on.
type differ struct {
	ctx      context.Context
	old, new *window
	out      io.Writer
	err      error

	size   int              // of a block
	blocks map[uint64]int64 // the first block of the older file with a hash
	power  uint64           // base^(size-1)

	at       int64 // in the newer file
	pending  int64 // where what is new and not written yet begins
	oldEnd   int64 // where the last copy ended
	straight bool  // what follows may go on where the last copy ended
}

// base of the hash: any odd number whose powers spread.
const base = 0x9E3779B97F4A7C15

func hashBytes(b []byte) (h uint64) {
	for _, c := range b {
		h = h*base + uint64(c) + 1
	}
	return h
}

func (d *differ) list() {
	d.blocks = make(map[uint64]int64, d.old.size/int64(d.size))
	for off := int64(0); off+int64(d.size) <= d.old.size && d.old.err == nil; off += int64(d.size) {
		h := hashBytes(d.old.at(off, d.size))
		if _, known := d.blocks[h]; !known {
			d.blocks[h] = off
		}
	}
}

func (d *differ) run() {
	for d.at < d.new.size && d.err == nil && d.old.err == nil && d.new.err == nil {
		if d.err = d.ctx.Err(); d.err != nil {
			return
		}
		if from, ok := d.ahead(); ok {
			d.copy(from)
		} else if from, ok := d.search(); ok {
			d.copy(from)
		} else {
			d.at = d.new.size
		}
	}
	if d.err == nil {
		d.literal(d.new.size)
		d.put(0)
	}
}

// How far ahead is looked for where both files are alike again in their places, and how
// many bytes count as alike.
const (
	lookAhead = 512
	alike     = 24
)

// ahead looks a little further on, in place.
func (d *differ) ahead() (from int64, ok bool) {
	if !d.straight {
		return 0, false
	}
	d.straight = false
	from = d.oldEnd + d.at - d.pending
	x, y := d.old.at(from, lookAhead+alike), d.new.at(d.at, lookAhead+alike)
	for i := 0; i+alike <= min(len(x), len(y)); i++ {
		if bytes.Equal(x[i:i+alike], y[i:i+alike]) {
			d.at += int64(i)
			return from + int64(i), true
		}
	}
	return 0, false
}

// search goes on until a block of the older file begins.
func (d *differ) search() (from int64, ok bool) {
	n := int64(d.size)
	for d.at+n <= d.new.size {
		// as many places as one view holds are looked at in turn
		view := d.new.at(d.at, held/4)
		if len(view) < d.size {
			return 0, false
		}
		h := hashBytes(view[:d.size])
		for i := 0; ; i++ {
			if off, known := d.blocks[h]; known && bytes.Equal(d.old.at(off, d.size), view[i:i+d.size]) {
				d.at += int64(i)
				return d.backwards(off), true
			}
			if i+d.size >= len(view) {
				d.at += int64(i) + 1
				break
			}
			h = (h-(uint64(view[i])+1)*d.power)*base + uint64(view[i+d.size]) + 1
		}
		d.flush()
	}
	return 0, false
}

// backwards lets a match begin earlier.
func (d *differ) backwards(off int64) int64 {
	n := int(min(d.at-d.pending, off, before))
	x, y := d.old.at(off-int64(n), n), d.new.at(d.at-int64(n), n)
	for i := len(x); i > 0 && len(x) == len(y) && x[i-1] == y[i-1]; i-- {
		off--
		d.at--
	}
	return off
}

// flush writes what is new so far, when it is much.
func (d *differ) flush() {
	if d.at-d.pending > held {
		d.literal(d.at)
		d.put(0)
	}
}

// literal writes what is new, up to a place.
func (d *differ) literal(end int64) {
	d.put(uint64(end - d.pending))
	for off := d.pending; off < end && d.err == nil && d.new.err == nil; {
		part := d.new.at(off, int(min(held/4, end-off)))
		if _, err := d.out.Write(part); err != nil {
			d.err = err
		}
		off += int64(len(part))
	}
	d.oldEnd += end - d.pending
	d.pending = end
}

// copy writes what is new before a match, and the match.
func (d *differ) copy(from int64) {
	d.literal(d.at)
	n := common(d.old, from, d.new, d.at, d.new.size-d.at)
	d.put(uint64(n))
	d.number(binary.AppendVarint(nil, from-d.oldEnd))
	d.at += n
	d.pending, d.oldEnd, d.straight = d.at, from+n, true
}

func (d *differ) put(n uint64) { d.number(binary.AppendUvarint(nil, n)) }

func (d *differ) number(b []byte) {
	if _, err := d.out.Write(b); err != nil && d.err == nil {
		d.err = err
	}
}
