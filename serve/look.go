package serve

import (
	"context"
	"os"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/words"
)

// Look looks at once whether packs were exchanged, are gone or are new. A file
// takes over when two looks saw it the same: it is not being written any more.
func (s *Server) Look(ctx context.Context) { s.racks.look(ctx) }

// watch looks again and again until close.
func (r *racks) watch(every time.Duration) {
	ctx, stop := context.WithCancel(context.Background())
	r.stop, r.stopped = stop, make(chan struct{})
	go func() {
		defer close(r.stopped)
		t := time.NewTicker(every)
		defer t.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-t.C:
				r.look(ctx)
			}
		}
	}()
}

func (r *racks) look(ctx context.Context) {
	r.looking.Lock()
	defer r.looking.Unlock()
	if err := r.find(); err != nil {
		r.log.Debug("a folder of packs cannot be read", "err", err) // its packs tell that they are gone
	}
	for _, l := range r.slots.Load().all {
		if ctx.Err() != nil {
			return
		}
		r.lookAt(ctx, l)
	}
	r.tell()
}

// What is told of a pack whose file is not as it was.
var (
	goneServed  = words.Say("laptop.gone_served")
	goneFolder  = words.Say("laptop.gone_folder")
	goneAlready = words.Say("laptop.gone")
	changing    = words.Say("laptop.changing")
	arriving    = words.Say("laptop.arriving")
)

// lookAt compares a path with what is served from it.
func (r *racks) lookAt(ctx context.Context, l *slot) {
	file, err := os.Stat(l.path)
	if err != nil {
		r.gone(l)
		return
	}
	steady := sameFile(file, l.seen)
	l.seen = file
	p := l.now.Load()
	switch {
	case p != nil && p.pack.IsFile(file):
		l.trouble, l.refused = "", nil
		return
	case p != nil && !p.pack.Replaced(file):
		// What is read from it now may be of either version: nothing is better.
		r.log.Warn("a pack was changed in place", "path", l.path)
		l.trouble = changing
		r.put(l, nil)
		return
	case l.refused != nil && sameFile(file, l.refused):
		return
	case !steady:
		if p == nil && l.trouble != changing {
			l.trouble = arriving
		}
		return
	}
	r.open(ctx, l)
}

// gone is told of a path without a file. Taking a file out of a folder is how a
// pack is taken off the server; one that was named goes on.
func (r *racks) gone(l *slot) {
	l.seen, l.refused = nil, nil
	before := l.trouble
	switch {
	case l.now.Load() == nil && l.trouble != goneFolder:
		l.trouble = goneAlready
	case l.now.Load() == nil:
	case l.folder == "":
		l.trouble = goneServed
	default:
		l.trouble = goneFolder
		r.put(l, nil)
	}
	if l.trouble != before {
		r.log.Warn("the file of a pack is gone", "path", l.path)
	}
}

// open opens the file at a slot's path, and serves it when it is a pack. When
// it is not, what is served goes on.
func (r *racks) open(ctx context.Context, l *slot) {
	file, err := os.Stat(l.path)
	if err != nil {
		r.gone(l)
		return
	}
	p, err := pack.Open(ctx, l.path)
	switch {
	case ctx.Err() != nil:
		return
	case err != nil:
		r.log.Warn("a file is refused as a pack", "path", l.path, "err", err)
		l.refused, l.trouble = file, words.Say("laptop.refused", "why", why(err))
		if l.now.Load() != nil {
			l.trouble = words.Say("laptop.refused_served", "why", why(err))
		}
	default:
		r.takeOver(l, p)
	}
}
