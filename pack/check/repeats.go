package check

import (
	"context"
	"sync"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// mostImages bounds what is remembered of another program's file.
const mostImages = 1 << 20

// repeats finds images that stand at places far from one another: most likely
// "no imagery here". A pack of our own names them itself, from all that the
// office has fetched; in another program's file only its own tiles can tell.
type repeats struct {
	named map[string]bool // by SHA-256 of the packed image, in hex

	mu   sync.Mutex
	seen map[[16]byte]*repeat
}

type repeat struct {
	tiles  int
	places []tiles.ID // the first, and corners of the box round all
	flat   bool
}

func newRepeats(p *pack.Pack) *repeats {
	r := &repeats{named: map[string]bool{}, seen: map[[16]byte]*repeat{}}
	for _, s := range p.Info.About.Suspects {
		r.named[s.Packed] = true
	}
	return r
}

// add counts a tile of another program's file.
func (r *repeats) add(t tiles.ID, data []byte, sum [32]byte) {
	key := [16]byte(sum[:16])
	r.mu.Lock()
	defer r.mu.Unlock()
	one := r.seen[key]
	if one == nil {
		if len(r.seen) < mostImages {
			r.seen[key] = &repeat{tiles: 1, places: []tiles.ID{t}}
		}
		return
	}
	if one.tiles++; one.tiles == 2 {
		one.flat = pack.Flat(data)
	}
	if len(one.places) < 3 || !pack.Distant(one.places) {
		one.places = append(one.places[:min(len(one.places), 2)], t)
	}
}

// noImagery adds the images that show nothing of the ground.
func (c *checker) noImagery(context.Context) error {
	a := c.pack.Info.About
	if a.Placeholders > 0 {
		c.add("placeholder", Warning, nil, words.Say("check.placeholders", "n", a.Placeholders))
	}
	for _, s := range a.Suspects {
		c.add("placeholder", Warning, nil, s.Words())
	}
	for _, one := range c.repeats.seen {
		if one.tiles >= 3 && !one.flat && pack.Distant(one.places) {
			t := one.places[0]
			c.add("placeholder", Warning, &t, words.Say("check.repeated", "n", one.tiles, "tile", t))
		}
	}
	if until := a.KeepUntil; until != nil && c.opts.Now().After(*until) {
		c.add("terms", Fault, nil, words.Say("check.terms_ended", "source", a.Source.Name, "time", measure.Moment(*until)))
	}
	return nil
}
