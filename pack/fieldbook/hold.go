package fieldbook

import "context"

// Hold does something while nobody can write into the book's file, such as copying it. What
// it does must not use the book.
func Hold(ctx context.Context, b *Book, do func() error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return do()
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
	return do()
}
