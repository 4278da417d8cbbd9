package fetch

import (
	"bytes"
	"sync"
)

// bufferPool reuses the buffers of images once they are written, so that memory
// does not grow with the length of a run. Sizes are a step apart.
type bufferPool struct {
	sizes [largestBuffer / bufferStep]sync.Pool
}

const (
	bufferStep    = 4 << 10
	largestBuffer = 64 << 10 // larger images are rare, and get a buffer of their own
)

// get gives an empty buffer with room for so many bytes.
func (p *bufferPool) get(size int) *bytes.Buffer {
	class := (size + bufferStep - 1) / bufferStep
	if class < 1 || class > len(p.sizes) {
		return bytes.NewBuffer(make([]byte, 0, max(size, 0)))
	}
	if used, ok := p.sizes[class-1].Get().(*[]byte); ok {
		return bytes.NewBuffer((*used)[:0])
	}
	return bytes.NewBuffer(make([]byte, 0, class*bufferStep))
}

// bufferSize is the room to read a body into; a length below 0 is unknown.
func bufferSize(length int64) int {
	if length < 0 {
		return largestBuffer
	}
	return int(length) + bytes.MinRead
}

// fitted moves a body into a buffer of its size, so that one of unknown length
// takes no more room than others while it waits.
func (p *bufferPool) fitted(read *bytes.Buffer) []byte {
	own := p.get(read.Len())
	own.Write(read.Bytes())
	p.put(read.Bytes())
	return own.Bytes()
}

// put takes back a buffer that is no longer in use.
func (p *bufferPool) put(used []byte) {
	if class := cap(used) / bufferStep; class >= 1 && class <= len(p.sizes) && cap(used)%bufferStep == 0 {
		p.sizes[class-1].Put(&used)
	}
}
