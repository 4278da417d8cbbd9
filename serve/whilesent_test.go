package serve

import (
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"
)

// slowPhone takes the first bytes and then waits.
type slowPhone struct {
	*httptest.ResponseRecorder
	took chan struct{}
	once sync.Once
	on   chan struct{}
}

func (s *slowPhone) Write(b []byte) (int, error) {
	s.once.Do(func() { close(s.took) })
	<-s.on
	return len(b), nil
}

// TestWhileSent: a large document is read once for all who are sent it at a time,
// and not kept after them.
func TestWhileSent(t *testing.T) {
	reads := 0
	doc := whileSent(func() ([]byte, error) {
		reads++
		return []byte(strings.Repeat("a reading ", 200_000)), nil
	})
	var all sync.WaitGroup
	release := make(chan struct{})
	for range 5 {
		phone := &slowPhone{ResponseRecorder: httptest.NewRecorder(), took: make(chan struct{}), on: release}
		all.Go(func() {
			a, err := doc()
			if err != nil {
				t.Error(err)
				return
			}
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
			if err != nil {
				t.Error(err)
				return
			}
			a.serve(phone, r)
		})
		<-phone.took
		runtime.GC()
	}
	if reads != 1 {
		t.Errorf("read %d times for five phones", reads)
	}
	close(release)
	all.Wait()
	runtime.GC()
	if _, err := doc(); err != nil || reads != 2 {
		t.Errorf("%d reads after all were sent it, %v: it was kept", reads, err)
	}
}
