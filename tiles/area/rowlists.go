package area

import "slices"

// rowLists keeps values by tile row, of a run of rowLists, each row's newest first. It
// is emptied and used again, so that many shapes and zooms share its memory.
type rowLists[T any] struct {
	first int
	heads []int32 // by row, the newest item of the row; none is -1
	items []item[T]
}

type item[T any] struct {
	value T
	older int32
}

// expected is the most rows for which room is made beforehand.
const expected = 1 << 15

// reset empties the list and sets its rows, both included.
func (r *rowLists[T]) reset(first, last int) {
	n := max(last-first+1, 0)
	if cap(r.heads) < n {
		r.heads = make([]int32, n)
		// A border goes down and up again: twice through each row.
		r.items = slices.Grow(r.items[:0], 2*min(n, expected))
	}
	r.first, r.heads, r.items = first, r.heads[:n], r.items[:0]
	for i := range r.heads {
		r.heads[i] = -1
	}
}

// holds reports whether the row is one of the list's.
func (r *rowLists[T]) holds(row int) bool { return uint(row-r.first) < uint(len(r.heads)) }

// newest is the last value pushed to a row, or nil.
func (r *rowLists[T]) newest(row int) *T {
	if i := r.heads[row-r.first]; i >= 0 {
		return &r.items[i].value
	}
	return nil
}

func (r *rowLists[T]) push(row int, v T) {
	head := &r.heads[row-r.first]
	r.items = append(r.items, item[T]{v, *head})
	*head = int32(len(r.items) - 1)
}

// of appends the values of a row to a list.
func (r *rowLists[T]) of(row int, list []T) []T {
	for i := r.heads[row-r.first]; i >= 0; i = r.items[i].older {
		list = append(list, r.items[i].value)
	}
	return list
}
