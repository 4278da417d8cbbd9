package pack

import (
	"context"
	"iter"
	"runtime"
	"sync"

	"groundsheet/tiles/mvt"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// packable is a held tile as it is packed. Its image was decoded, so a check need only
// prove that the bytes are the same.
type packable struct {
	store.Held
	data    []byte // in the pack's format; nil for a hole
	recoded bool
	flaw    error // why it cannot be decoded; such an image is not packed
}

// encodeAhead yields held tiles in their order, while others decode and recode the
// next ones on all cores. It holds a few images for each core.
func encodeAhead(ctx context.Context, held iter.Seq2[store.Held, error],
	encode func(store.Held) packable) iter.Seq2[packable, error] {
	type result struct {
		packable
		err error
	}
	return func(yield func(packable, error) bool) {
		ctx, stop := context.WithCancel(ctx)
		var all sync.WaitGroup
		defer all.Wait()
		defer stop()
		queue := make(chan chan result, 2*runtime.GOMAXPROCS(0))
		all.Go(func() {
			defer close(queue)
			for h, err := range held {
				done := make(chan result, 1)
				select {
				case queue <- done:
				case <-ctx.Done():
					return
				}
				if err != nil {
					done <- result{err: err}
					return
				}
				all.Go(func() { done <- result{packable: encode(h)} })
			}
		})
		for done := range queue {
			if r := <-done; !yield(r.packable, r.err) || r.err != nil {
				return
			}
		}
	}
}

// encode decodes an image and brings it to the pack's one format (MBTiles 1.3
// declares one); bytes that have it already stay as the source sent them.
func (p *packWriter) encode(h store.Held) packable {
	if h.Hole {
		return packable{Held: h}
	}
	if p.scan.format == raster.PBF {
		layers, err := mvt.Decode(h.Data)
		if err == nil {
			p.layers.add(h.ID, layers)
		}
		return packable{Held: h, data: h.Data, flaw: err}
	}
	img, err := raster.Decode(h.Data)
	if err != nil || raster.Kind(h.Media) == p.scan.format && p.quality == 0 {
		return packable{Held: h, data: h.Data, flaw: err}
	}
	var data []byte
	if p.quality > 0 {
		data, err = raster.EncodeJPEG(img, p.quality)
	} else {
		data, err = raster.Encode(img, p.scan.format)
	}
	return packable{Held: h, data: data, recoded: true, flaw: err}
}
