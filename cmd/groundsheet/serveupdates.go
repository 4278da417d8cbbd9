package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	newer "groundsheet/pack/update"
	"groundsheet/serve"
)

const updatesHelp = "folder, such as that of a stick, from which updates of served packs are taken; see: groundsheet apply --help"

// taker takes updates from a folder.
type taker struct {
	app    *app
	server *serve.Server
	folder string
	stamps map[string]string // of the files that were seen, when they were seen last
	done   map[string]string // of those that were looked at
}

// takeUpdates looks into a folder for updates, also one that is not there all the time, and
// brings the served packs to the newer ones. Each file is looked at once it rests.
func (a *app) takeUpdates(ctx context.Context, s *serve.Server, folder string, interval time.Duration) {
	t := taker{a, s, folder, map[string]string{}, map[string]string{}}
	for tick := time.NewTicker(interval); ; {
		t.look(ctx)
		select {
		case <-ctx.Done():
			tick.Stop()
			return
		case <-tick.C:
		}
	}
}

func (t *taker) look(ctx context.Context) {
	found, err := filepath.Glob(filepath.Join(globbed(t.folder), "*"+newer.Extension))
	if err != nil {
		return
	}
	for _, path := range found {
		info, err := os.Stat(path)
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		stamp := fmt.Sprint(info.Size(), info.ModTime().UnixNano())
		rests := t.stamps[path] == stamp
		if t.stamps[path] = stamp; !rests || t.done[path] == stamp {
			continue
		}
		t.done[path] = stamp
		if err := t.take(ctx, path); err != nil && ctx.Err() == nil {
			t.app.say("WARNING: %v", err)
		}
	}
}

// globbed is a folder's name as a pattern that means it alone.
func globbed(folder string) string {
	var out []rune
	for _, r := range folder {
		if r == '*' || r == '?' || r == '[' || r == '\\' && filepath.Separator != '\\' {
			out = append(out, '\\')
		}
		out = append(out, r)
	}
	return string(out)
}

// take brings the pack that an update begins with to the newer one.
func (t *taker) take(ctx context.Context, path string) error {
	u, err := newer.Open(ctx, path)
	if err != nil {
		return err
	}
	header := u.Header
	if err := u.Close(); err != nil {
		return err
	}
	for _, p := range t.server.Packs() {
		info, err := os.Stat(p.Path)
		if err != nil || info.Size() != header.Old.Bytes && info.Size() != header.New.Bytes {
			continue // another pack, without reading all of it
		}
		done, err := newer.Apply(ctx, p.Path, path)
		switch {
		case errors.Is(err, newer.OtherPack):
			continue
		case err != nil:
			return err
		case done.Already:
			t.app.say("%s: %s is the %s already, seal %s", path, p.Path, comingTo(header), header.New.Seal)
		default:
			t.app.say("%s: %s is now the %s, seal %s (it was %s): %s", path, p.Path, comingTo(header), header.New.Seal, header.Old.Seal, whatText(header.What))
		}
		return nil
	}
	return wrongUse(fmt.Sprintf("%s: no pack that is served is the one that it begins with (seal %s, of %q), or it is signed by another key",
		path, header.Old.Seal, header.Job),
		"bring the whole pack; what is served stays as it is")
}
