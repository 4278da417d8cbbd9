package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles/sqlite"
)

// bareBatch is how many tiles the bare loop writes at a time.
const bareBatch = 500

// bare is the least that any Go program does that fetches and stores durably:
// the same client, one insert a tile in large batches, the same journal and pages.
// Nothing is proved, nothing kept once, no record, no terms. What it reaches beside
// curl is the most that this computer leaves to the fetcher.
func (t fetchTask) bare(ctx context.Context) (got fetched, err error) {
	if err := os.MkdirAll(t.Store, 0o755); err != nil {
		return got, err
	}
	db := sqlite.Open(filepath.Join(t.Store, "bare.sqlite"), sqlite.Options{
		Settings: "mode=rwc&_txlock=immediate",
		Pragmas:  []string{"page_size=16384", "journal_mode=PERSIST", "synchronous=FULL"},
	})
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, `CREATE TABLE tiles (n INTEGER PRIMARY KEY, hash BLOB, data BLOB)`); err != nil {
		return got, err
	}
	began := time.Now()
	if err := t.bareLoop(ctx, db); err != nil {
		return got, err
	}
	got = fetched{New: t.Tiles, Seconds: time.Since(began).Seconds(), PeakMB: peakMB()}
	return got, db.Close()
}

// bareTile is one on its way to the disk.
type bareTile struct {
	n    int
	hash [32]byte
	data []byte
}

func (t fetchTask) bareLoop(ctx context.Context, db *sql.DB) error {
	client := &http.Transport{MaxConnsPerHost: t.Connections, MaxIdleConnsPerHost: t.Connections, DisableCompression: true, ReadBufferSize: 32 << 10}
	defer client.CloseIdleConnections()
	wanted, came, free := make(chan int, 64), make(chan bareTile, bareBatch), make(chan []byte, 2*bareBatch)
	workers, ctx := errgroup.WithContext(ctx)
	for range t.Connections {
		workers.Go(func() error { return t.bareWorker(ctx, client, wanted, came, free) })
	}
	written := make(chan error, 1)
	go func() { written <- bareWrite(context.WithoutCancel(ctx), db, came, free) }()
	for n := range t.Tiles {
		select {
		case wanted <- n:
		case <-ctx.Done():
		}
	}
	close(wanted)
	err := workers.Wait()
	close(came)
	if writeErr := <-written; err == nil {
		err = writeErr
	}
	return err
}

func (t fetchTask) bareWorker(ctx context.Context, client http.RoundTripper, wanted <-chan int, came chan<- bareTile, free <-chan []byte) error {
	for n := range wanted {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, fmt.Sprintf("%s/%s.jpg", t.URL, benchTile(n)), nil)
		if err != nil {
			return err
		}
		resp, err := client.RoundTrip(req)
		if err != nil {
			return err
		}
		var data []byte
		select {
		case data = <-free:
		default: // more on their way than ever before
		}
		data = slices.Grow(data[:0], int(max(resp.ContentLength, 0)))[:max(resp.ContentLength, 0)]
		_, err = io.ReadFull(resp.Body, data)
		resp.Body.Close()
		if err != nil {
			return err
		}
		came <- bareTile{n, sha256.Sum256(data), data}
	}
	return nil
}

// bareWrite takes what comes to the end, so that no worker hangs.
func bareWrite(ctx context.Context, db *sql.DB, came <-chan bareTile, free chan<- []byte) (failed error) {
	var batch []bareTile
	for tile := range came {
		if batch = append(batch, tile); len(batch) < bareBatch || failed != nil {
			continue
		}
		failed = bareCommit(ctx, db, batch)
		for _, tile := range batch {
			select {
			case free <- tile.data:
			default:
			}
		}
		clear(batch)
		batch = batch[:0]
	}
	if failed != nil {
		return failed
	}
	return bareCommit(ctx, db, batch)
}

func bareCommit(ctx context.Context, db *sql.DB, batch []bareTile) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to take back
	insert, err := tx.PrepareContext(ctx, `INSERT INTO tiles VALUES (?, ?, ?)`)
	if err != nil {
		return err
	}
	for _, tile := range batch {
		if _, err := insert.ExecContext(ctx, tile.n, tile.hash[:], tile.data); err != nil {
			return err
		}
	}
	return tx.Commit()
}
