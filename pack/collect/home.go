package collect

import (
	"context"
	"path/filepath"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
)

// Home tells how far the field books that a job keeps go, for a pack that is made of it now.
// One that cannot be read is left out: nothing of it is said to be at home, and [Run] says
// what is wrong with it.
func Home(ctx context.Context, dir string) (all []pack.BookHome) {
	names, _ := Kept(dir)
	for _, name := range names {
		if last, ok := lastOf(ctx, filepath.Join(dir, filepath.FromSlash(name))); ok {
			all = append(all, last)
		}
	}
	return all
}

func lastOf(ctx context.Context, file string) (last pack.BookHome, ok bool) {
	b, err := fieldbook.Read(file)
	if err != nil {
		return last, false
	}
	defer b.Close() //nolint:errcheck // only read
	n, err := b.Latest(ctx)
	if err != nil || n == 0 {
		return last, false
	}
	all, err := b.Entries(ctx, n-1, 1)
	if err != nil || len(all) != 1 {
		return last, false
	}
	return pack.BookHome{Book: b.About().Book, Entries: n, Hash: all[0].Hash}, true
}
