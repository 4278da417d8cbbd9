package fetch

import (
	"bytes"
	"sync"
)

// rooms are buffers for the images on their way from the source to the store:
// one is used again as soon as its image is written, so that memory stays where
// it is however long a run is. They come in sizes a step apart.
type rooms struct {
	sizes [largestRoom / roomStep]sync.Pool
}

const (
	roomStep    = 4 << 10
	largestRoom = 64 << 10 // larger images are rare, and get one of their own
)

// take gives an empty buffer with room for so many bytes.
func (r *rooms) take(bytesWanted int) *bytes.Buffer {
	class := (bytesWanted + roomStep - 1) / roomStep
	if class < 1 || class > len(r.sizes) {
		return bytes.NewBuffer(make([]byte, 0, max(bytesWanted, 0)))
	}
	if used, ok := r.sizes[class-1].Get().(*[]byte); ok {
		return bytes.NewBuffer((*used)[:0])
	}
	return bytes.NewBuffer(make([]byte, 0, class*roomStep))
}

// roomFor is the room to read an answer into; a length below 0 was not told.
func roomFor(length int64) int {
	if length < 0 {
		return largestRoom
	}
	return int(length) + bytes.MinRead
}

// fitted moves what was read into a buffer of its size, so that answers whose
// length was not told take no more room than others while they wait.
func (r *rooms) fitted(read *bytes.Buffer) []byte {
	own := r.take(read.Len())
	own.Write(read.Bytes())
	r.giveBack([][]byte{read.Bytes()})
	return own.Bytes()
}

// giveBack takes buffers that nobody looks at any more.
func (r *rooms) giveBack(all [][]byte) {
	for _, room := range all {
		if class := cap(room) / roomStep; class >= 1 && class <= len(r.sizes) && cap(room)%roomStep == 0 {
			r.sizes[class-1].Put(&room)
		}
	}
}
