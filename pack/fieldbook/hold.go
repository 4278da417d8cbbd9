package fieldbook

import (
	"context"
	"path/filepath"
)

// Hold does something with the book's file while nobody can write into it, such as copying
// it. The path is that of the file, or of the copy in which it was mended, see [Read]. What
// is done must not use the book.
func Hold(ctx context.Context, b *Book, do func(path string) error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	path := b.path
	if b.copied != "" {
		path = filepath.Join(b.copied, "book")
	}
	if b.db == nil {
		return do(path)
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return b.explain(err)
	}
	defer tx.Rollback() //nolint:errcheck // nothing was written
	var n int
	if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM about`).Scan(&n); err != nil { // from here on the lock is held
		return b.explain(err)
	}
	return do(path)
}
