package fetch_test

import (
	"net/http"
	"sync"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

// own is a source of pictures of one's own, whose blocks are made at once.
func (h *host) own() source.Source {
	src := h.fast()
	src.Kind, src.Templates = source.KindRaster, []string{h.URL + "/{z}/{x}/{y}"}
	return src
}

// TestBatches: a worker asks for the tiles of a block one after the other, whatever
// rows they are in, so that no block is made twice.
func TestBatches(t *testing.T) {
	image := picture(256, 1, false)
	var mu sync.Mutex
	var order []tiles.ID
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		id, _ := tiles.ParseID(r.URL.Path[1:])
		mu.Lock()
		order = append(order, id)
		mu.Unlock()
		w.Write(image)
	})
	src := h.own()
	src.Terms.Connections = 1
	wants := field(4, 2, 27, 13) // parts of 4 by 2 blocks
	tally, err := run(src, shelf(t), wants, quick())
	if err != nil || tally.New != len(wants) {
		t.Fatalf("%+v, %v", tally, err)
	}
	begun, last := map[tiles.ID]bool{}, tiles.ID{}
	for i, id := range order {
		block, n := src.Batch(id)
		if n != 8 {
			t.Fatalf("%d tiles a side", n)
		}
		if i > 0 && block != last && begun[block] {
			t.Fatalf("block %v is begun again at %v", block, id)
		}
		begun[block], last = true, block
	}
	if len(begun) != 8 {
		t.Errorf("%d blocks", len(begun))
	}
}

// unfit answers nothing but a fault.
type unfit struct{}

func (unfit) RoundTrip(*http.Request) (*http.Response, error) {
	return nil, &fault.Fault{Place: "ortho.tif", Detail: "it is cut short", Remedy: "get it again"}
}

// TestAnswererSaysWhatIsWrong: its own words, not those of a broken connection,
// and no second try.
func TestAnswererSaysWhatIsWrong(t *testing.T) {
	h := serve(t, sends(nil))
	o := quick()
	o.Client = &http.Client{Transport: unfit{}}
	tally, err := run(h.own(), shelf(t), []fetch.Want{{ID: tiles.ID{Z: 12}}}, o)
	says(t, err, "ortho.tif: it is cut short; get it again")
	if tally.Failed != 1 || tally.Retries != 0 {
		t.Errorf("%+v", tally)
	}
}
