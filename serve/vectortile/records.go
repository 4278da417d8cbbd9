package vectortile

import (
	"bytes"
	"compress/flate"
	"context"
	"fmt"
	"io"
)

// records keeps the features as they were packed, in compressed blocks: a
// hundred thousand of them take a tenth of their text.
type records struct {
	blocks [][]byte
	count  int
}

// blockSize is how many records are compressed together.
const blockSize = 128

// recorder fills records. Blocks are compressed beside the reading, which takes twice
// as long.
type recorder struct {
	records
	buffer []byte      // the block that is being filled
	full   chan []byte // blocks to compress
	done   chan error
}

func newRecorder() *recorder {
	r := &recorder{full: make(chan []byte, 4), done: make(chan error, 1)}
	go func() { r.done <- r.compress() }()
	return r
}

func (r *recorder) add(raw []byte) {
	r.buffer = append(append(r.buffer, raw...), 0) // never a byte of JSON
	r.count++
	if r.count%blockSize == 0 {
		r.flush()
	}
}

func (r *recorder) flush() {
	if len(r.buffer) > 0 {
		r.full <- r.buffer
	}
	r.buffer = nil
}

func (r *recorder) compress() (err error) {
	var b bytes.Buffer
	zip, err := flate.NewWriter(&b, flate.BestSpeed)
	for block := range r.full {
		if err != nil {
			continue // the reading must not wait
		}
		b.Reset()
		zip.Reset(&b)
		if _, err = zip.Write(block); err == nil {
			err = zip.Close()
		}
		r.blocks = append(r.blocks, bytes.Clone(b.Bytes()))
	}
	return err
}

// close gives the records when all are compressed. It must be called once, also when
// the reading failed.
func (r *recorder) close() (records, error) {
	r.flush()
	close(r.full)
	err := <-r.done
	return r.records, err
}

// block decompresses the records of a block.
func (r *records) block(i int) ([]byte, error) {
	block, err := io.ReadAll(flate.NewReader(bytes.NewReader(r.blocks[i])))
	if err != nil {
		return nil, fmt.Errorf("records from %d on: %w", i*blockSize, err)
	}
	return block, nil
}

// Each gives the features as they were packed, from a number on, until ctx ends or yield
// wants no more; searched is how many were given.
func (x *Index) Each(ctx context.Context, from int, yield func(n int, record []byte) bool) (searched int, err error) {
	for n := from; n < x.records.count; {
		if ctx.Err() != nil {
			return searched, ctx.Err()
		}
		rest, err := x.records.block(n / blockSize)
		if err != nil {
			return searched, err
		}
		for i := n - n%blockSize; i < n; i++ {
			_, rest, _ = bytes.Cut(rest, []byte{0})
		}
		for len(rest) > 0 {
			var record []byte
			record, rest, _ = bytes.Cut(rest, []byte{0})
			searched++
			if !yield(n, record) {
				return searched, nil
			}
			n++
		}
	}
	return searched, nil
}

// Record gives a feature as it was packed, GeoJSON. They are numbered from 0
// in the overlay's order, those without a place left out; nil beyond the last.
func (x *Index) Record(n int) ([]byte, error) {
	r := &x.records
	if n < 0 || n >= r.count {
		return nil, nil
	}
	block, err := r.block(n / blockSize)
	if err != nil {
		return nil, err
	}
	for range n % blockSize {
		_, block, _ = bytes.Cut(block, []byte{0})
	}
	record, _, _ := bytes.Cut(block, []byte{0})
	return record, nil
}
