package postgres

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/store"
)

// together is how many of the records have their images read in one go.
func together(recs []store.Held) int {
	seen, sum := map[[32]byte]bool{}, 0
	for i, r := range recs {
		if !seen[r.Hash] {
			seen[r.Hash] = true
			sum += r.Bytes
		}
		if sum > bytesAtOnce && i > 0 {
			return i
		}
	}
	return len(recs)
}

func (w walker) withImages(ctx context.Context, recs []store.Held) bool {
	images, err := w.s.images(ctx, recs)
	if err != nil {
		w.yield(store.Held{}, err)
		return false
	}
	for _, r := range recs {
		held := true
		if r.Data = images.take(r.Hash); r.Data == nil && !r.Hole {
			// The tile was changed or dropped since its row was read.
			r, held, err = w.s.one(ctx, r.ID)
		}
		if err == nil && held && w.prove {
			err = w.s.proved(r)
		}
		if err != nil {
			w.yield(store.Held{}, err)
			return false
		}
		if held && !w.yield(r, nil) {
			return false
		}
	}
	return true
}

// images are read together, with how many records want each.
type images struct {
	data map[[32]byte][]byte
	uses map[[32]byte]int
}

func (s *Shelf) images(ctx context.Context, recs []store.Held) (images, error) {
	im := images{map[[32]byte][]byte{}, map[[32]byte]int{}}
	var hashes [][]byte
	for _, r := range recs {
		if im.uses[r.Hash]++; im.uses[r.Hash] == 1 && !r.Hole {
			hashes = append(hashes, bytes.Clone(r.Hash[:]))
		}
	}
	if len(hashes) == 0 {
		return im, nil
	}
	err := s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, selectImages, shelf, hashes)
		if err != nil {
			return err
		}
		var hash, data []byte
		_, err = pgx.ForEachRow(rows, []any{&hash, &data}, func() error {
			im.data[[32]byte(hash)] = data
			data = nil // the next one must not fill the same bytes
			return nil
		})
		return err
	})
	return im, err
}

// take gives every record bytes of its own.
func (im images) take(hash [32]byte) []byte {
	data := im.data[hash]
	if im.uses[hash]--; im.uses[hash] == 0 {
		delete(im.data, hash)
		return data
	}
	return bytes.Clone(data)
}

// proved compares an image with its hash: a flipped bit is seen by nobody else
// before the field.
func (s *Shelf) proved(r store.Held) error {
	if r.Hole || sha256.Sum256(r.Data) == r.Hash {
		return nil
	}
	return store.Damage(s.where, fmt.Errorf("the image of tile %s does not match its SHA-256", r.ID))
}
