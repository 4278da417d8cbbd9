package desk

import (
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path/filepath"
	"strings"
	"sync"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/vector"
)

// drops are the files that were dropped on the page and not taken in yet. They are kept
// in memory alone: what is not confirmed leaves nothing.
type drops struct {
	mu  sync.Mutex
	all []*drop // the latest last
}

// drop is a file, with the side files that were dropped with it.
type drop struct {
	id    string
	name  string
	data  []byte
	sides map[string][]byte // by ending, in lower case
}

// How much is kept of what was dropped: the latest files.
const (
	mostDrops     = 16
	mostDropBytes = 768 << 20
)

func (d *drop) size() int {
	n := len(d.data)
	for _, s := range d.sides {
		n += len(s)
	}
	return n
}

func (d *drop) file() vector.File {
	return vector.File{Name: d.name, Data: d.data, Beside: func(ending string) ([]byte, error) {
		if data, there := d.sides[strings.ToLower(ending)]; there {
			return data, nil
		}
		return nil, fs.ErrNotExist
	}}
}

// take keeps the body of a request as a file called ?name=. With ?with=ID it is a side
// file of one that was dropped before.
func (s *drops) take(r *http.Request) (any, error) {
	name := filepath.Base(strings.ReplaceAll(r.URL.Query().Get("name"), `\`, "/"))
	if strings.TrimSpace(name) == "" || name == "." || name == "/" {
		return nil, &fault.Fault{Detail: "the file has no name", Remedy: "send ?name="}
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, err
	}
	if with := r.URL.Query().Get("with"); with != "" {
		return s.beside(with, name, data)
	}
	sum := sha256.Sum256(append([]byte(name+"\x00"), data...))
	d := &drop{id: fmt.Sprintf("%x", sum[:12]), name: name, data: data, sides: map[string][]byte{}}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all = append(s.all, d)
	for total := s.bytes(); len(s.all) > 1 && (len(s.all) > mostDrops || total > mostDropBytes); total = s.bytes() {
		s.all = s.all[1:]
	}
	return map[string]string{"drop": d.id, "name": name}, nil
}

func (s *drops) bytes() (n int) {
	for _, d := range s.all {
		n += d.size()
	}
	return n
}

func (s *drops) beside(id, name string, data []byte) (any, error) {
	d, err := s.find(id)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	sides := map[string][]byte{strings.ToLower(filepath.Ext(name)): data}
	for ending, other := range d.sides {
		if _, again := sides[ending]; !again {
			sides[ending] = other
		}
	}
	next := &drop{id: d.id, name: d.name, data: d.data, sides: sides} // one that is being read stays as it is
	for i := range s.all {
		if s.all[i] == d {
			s.all[i] = next
		}
	}
	return map[string]string{"drop": d.id, "name": d.name}, nil
}

// find gives a dropped file; one that was pushed out by later ones is to be dropped again.
func (s *drops) find(id string) (*drop, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := len(s.all) - 1; i >= 0; i-- {
		if s.all[i].id == id {
			return s.all[i], nil
		}
	}
	return nil, &fault.Fault{Kind: notFound, Detail: "the dropped file is not kept any more", Remedy: "drop it again"}
}
