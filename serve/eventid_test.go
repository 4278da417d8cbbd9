package serve

import (
	"bufio"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestEventsTellWhenTheyWereSent: by ids that count milliseconds.
func TestEventsTellWhenTheyWereSent(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, h.URL+"/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	before := int64(-1)
	lines := bufio.NewScanner(resp.Body)
	for events := 0; events < 3 && lines.Scan(); {
		text, ok := strings.CutPrefix(lines.Text(), "id: ")
		if !ok {
			continue
		}
		events++
		sent, err := strconv.ParseInt(text, 10, 64)
		if err != nil || sent < before || sent > time.Since(began).Milliseconds()+60_000 {
			t.Errorf("an id of %q after %d", text, before)
		}
		before = sent
	}
	if before < 0 {
		t.Error("no event has an id")
	}
}
