package folder

import (
	"testing"

	"groundsheet/tiles/store"
	"groundsheet/tiles/store/storetest"
)

func TestContract(t *testing.T) {
	at := func(t *testing.T, dir string) store.Store {
		st, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { st.Close() })
		return st
	}
	storetest.Run(t, storetest.Suite{
		Open:  func(t *testing.T) store.Store { return at(t, t.TempDir()) },
		Again: func(t *testing.T, s store.Store) store.Store { return at(t, s.Where()) },
	})
}
