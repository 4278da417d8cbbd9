package imagery

import (
	"context"
	"errors"
	"image"
	"slices"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// block gives the picture of a block: one that is held, or one that is being
// warped for another request, or a new one.
func (a *Answerer) block(ctx context.Context, first tiles.ID, n int) (*image.NRGBA, error) {
	for {
		a.mu.Lock()
		i := slices.IndexFunc(a.blocks, func(b *block) bool { return b.first == first })
		if i < 0 {
			b := &block{first: first, done: make(chan struct{})}
			a.blocks = append([]*block{b}, a.blocks...)
			a.evict()
			a.mu.Unlock()
			b.img, b.err = a.warp(ctx, first, n)
			if b.err != nil && (ctx.Err() != nil || a.remote != nil) { // another try may go well
				a.forget(b)
			}
			close(b.done)
			return b.img, b.err
		}
		b := a.blocks[i]
		a.blocks = append([]*block{b}, slices.Delete(a.blocks, i, i+1)...)
		a.mu.Unlock()
		select {
		case <-b.done:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		if errors.Is(b.err, context.Canceled) || errors.Is(b.err, context.DeadlineExceeded) {
			continue // it was given up by another, not by us
		}
		return b.img, b.err
	}
}

// evict forgets the oldest blocks, but none that is being warped.
func (a *Answerer) evict() {
	most := keptBlocks + source.DefaultConnections
	if t := a.src.Terms; t != nil {
		most = keptBlocks + t.Connections
	}
	for i := len(a.blocks) - 1; i > 0 && len(a.blocks) > most; i-- {
		select {
		case <-a.blocks[i].done:
			a.blocks = slices.Delete(a.blocks, i, i+1)
		default:
		}
	}
}

func (a *Answerer) forget(b *block) {
	a.mu.Lock()
	a.blocks = slices.DeleteFunc(a.blocks, func(other *block) bool { return other == b })
	a.mu.Unlock()
}
