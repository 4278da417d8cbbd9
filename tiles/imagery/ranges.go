package imagery

import (
	"crypto/rand"
	"errors"
	"io"
	"net"
	"net/http"
	"time"
)

// served is a remote picture on this computer's loopback, for the child alone:
// its reads then go through the caller, who keeps to the terms. The address has
// a secret of 128 bits, so that no other program can use it.
type served struct {
	Remote
	address string
	server  *http.Server
}

func serveRanges(r Remote) (*served, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	path := "/" + rand.Text() + "/picture.tif"
	s := &served{Remote: r, address: "http://" + l.Addr().String() + path}
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+path, func(w http.ResponseWriter, req *http.Request) {
		body := io.NewSectionReader(r.ReaderAt, 0, r.Size)
		w.Header().Set("Content-Type", "image/tiff")
		http.ServeContent(w, req, "", r.Modified, body)
	})
	s.server = &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second}
	go func() {
		if err := s.server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			_ = l.Close()
		}
	}()
	return s, nil
}

func (s *served) close() error { return s.server.Close() }
