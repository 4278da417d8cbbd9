package serve

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"groundsheet/serve/auth"
)

// pressed makes a large document when it is first asked for, and keeps it compressed
// alone: phones ask for tiles of it, and the whole takes ten times the memory.
func pressed(text func() ([]byte, error)) func() (asset, error) {
	var kept once[asset]
	return func() (asset, error) {
		return kept.get(func() (asset, error) {
			body, err := text()
			if err != nil {
				return asset{}, err
			}
			sum := sha256.Sum256(body)
			return asset{media: mediaGeoJSON, small: bytes.Clone(zip(body, gzip.BestSpeed)), length: int64(len(body)), tag: fmt.Sprintf("%x", sum[:12])}, nil
		})
	}
}

// How many large documents one phone is sent at once, and how long one more waits. The
// project's own choice, no source.
const (
	mostPressed     = 1
	pressedWaiting  = 64
	pressedPatience = 10 * time.Second
)

// servePressed sends a large document when it is its phone's turn.
func (s *Server) servePressed(w http.ResponseWriter, r *http.Request, a asset) {
	done, ok := s.sending.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		s.later(w, "this phone is being sent large documents already: ask for one after the other")
		return
	}
	defer done()
	a.serve(w, r)
}

// later asks a phone to come back.
func (s *Server) later(w http.ResponseWriter, why string) {
	w.Header().Set("Retry-After", "5")
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, why, http.StatusServiceUnavailable)
}

// unpressing reads a compressed document as it was, from any place on. Going
// back begins anew.
type unpressing struct {
	small  []byte
	length int64
	wanted int64 // where the next read is to begin
	at     int64 // where zip is
	zip    *gzip.Reader
}

// Seek says where the next read begins.
func (u *unpressing) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += u.wanted
	case io.SeekEnd:
		offset += u.length
	}
	if offset < 0 {
		return 0, errors.New("before the beginning")
	}
	u.wanted = offset
	return offset, nil
}

// Read reads on.
func (u *unpressing) Read(b []byte) (int, error) {
	if u.wanted >= u.length {
		return 0, io.EOF
	}
	if u.zip == nil || u.wanted < u.at {
		var err error
		if u.zip, err = gzip.NewReader(bytes.NewReader(u.small)); err != nil {
			return 0, err
		}
		u.at = 0
	}
	skipped, err := io.CopyN(io.Discard, u.zip, u.wanted-u.at)
	if u.at += skipped; err != nil {
		return 0, err
	}
	n, err := u.zip.Read(b)
	u.at += int64(n)
	u.wanted = u.at
	return n, err
}
