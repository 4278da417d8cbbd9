package desk

import (
	"context"
	"maps"
	"time"

	"groundsheet/tiles/fault"
)

// lookEvery is how often known jobs are looked at while a page is open.
const lookEvery = 2 * time.Second

// watch tells pages which jobs have changed, whoever changed them.
func (d *desk) watch(ctx context.Context) {
	before := map[string]string{}
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if d.events.open() > 0 {
			before = d.lookRound(ctx, before)
		}
	}
}

// lookRound looks at all jobs, and tells what differs from before.
func (d *desk) lookRound(ctx context.Context, before map[string]string) (now map[string]string) {
	now = map[string]string{}
	known := d.folders.scan(ctx)
	for id, dir := range known {
		s := d.files.look(dir)
		now[id] = s.Etag + s.packs
		if was, had := before[id]; had && was != now[id] {
			d.tellSeen(id, s)
		}
	}
	if len(before) == 0 { // nobody has looked before
		return now
	}
	if !maps.EqualFunc(before, now, func(string, string) bool { return true }) {
		d.publish("jobs", nil)
	}
	return now
}

// tellJob tells pages at once that a job was changed.
func (d *desk) tellJob(id, dir string) {
	d.assessor.forget(id)
	d.tellSeen(id, d.files.look(dir))
}

func (d *desk) tellSeen(id string, s seen) {
	d.publish("job", map[string]any{"id": id, "row": rowOf(id, s)})
}

// unchanged refuses a change of a job that is not as the page has seen it.
func (d *desk) unchanged(dir, etag string) error {
	if d.files.look(dir).Etag == etag {
		return nil
	}
	return &fault.Fault{Kind: changed, Place: dir, Detail: "the job was changed meanwhile", Remedy: "look again; what you entered is not lost"}
}
