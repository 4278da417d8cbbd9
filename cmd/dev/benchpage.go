package main

import (
	"context"
	"errors"
)

// manyCount is the number of readings that the page's aims are stated for.
const manyCount = 100_000

// benchPage measures the map page with very many readings in a browser that
// is slowed down: frames while moving the map, and the time to the first picture.
func benchPage(ctx context.Context, r repo) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	return withReadings(ctx, r, "many-readings", manyReadings, func(base string) error {
		return r.runIn(ctx, r.path("serve", "web"), nil, "node", "test/big.mjs", "--url", base, "--shots", r.path(".cache", "shots"), "--bench")
	})
}

// manyInBrowser checks the page with very many readings.
func manyInBrowser(ctx context.Context, r repo) error {
	return withReadings(ctx, r, "many-readings", manyReadings, func(base string) error {
		return r.runIn(ctx, r.path("serve", "web"), nil, "node", "test/big.mjs", "--url", base, "--shots", r.path(".cache", "shots"))
	})
}

func manyReadings(d demoRun) error { return d.manyReadings(manyCount) }

// withReadings packs the demo's job with readings more, in its own folder under
// .cache, and serves it.
func withReadings(ctx context.Context, r repo, folder string, add func(demoRun) error, use func(base string) error) error {
	d := demoRun{repo: r, dir: r.path(".cache", folder)}
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	defer running.Close() //nolint:errcheck // the process ends with it
	if err := add(d); err != nil {
		return err
	}
	if err := r.runIn(ctx, r.root, d.env(), r.program(), "pack", d.site()); err != nil {
		return err
	}
	server, err := d.startServer(ctx, "127.0.0.1:0")
	if err != nil {
		return err
	}
	return errors.Join(use(server.base), server.stop())
}
