package book

import (
	"errors"
	"io"
	"net/http"
	"strconv"

	"groundsheet/pack/fieldbook"
)

// have says how much of a photo is in the book.
func (s *Server) have(w http.ResponseWriter, r *http.Request, _ Pack, b *fieldbook.Book) {
	stored, err := b.Have(r.Context(), r.PathValue("hash"))
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	s.reply(w, r, stored)
}

// addPiece adds a piece of a photo, ?at=&of=&type=.
func (s *Server) addPiece(w http.ResponseWriter, r *http.Request, p Pack, b *fieldbook.Book) {
	q := r.URL.Query()
	at, err := strconv.ParseInt(q.Get("at"), 10, 64)
	of, err2 := strconv.ParseInt(q.Get("of"), 10, 64)
	if errors.Join(err, err2) != nil {
		http.Error(w, "want at=BYTE, of=BYTES and type=image/jpeg or image/png", http.StatusBadRequest)
		return
	}
	data, err := io.ReadAll(io.LimitReader(r.Body, fieldbook.MaxPiece+1))
	if err != nil {
		return // the phone went away, or sent more than the server takes
	}
	stored, err := b.AddPiece(r.Context(), fieldbook.Piece{Hash: r.PathValue("hash"), Type: q.Get("type"), Of: of, At: at, Data: data})
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	if latest, err := b.Latest(r.Context()); stored.Done && err == nil { // phones that wait for it ask again
		s.announce(p.ID, latest)
	}
	s.reply(w, r, stored)
}

// photo gives a whole photo. It may be opened by itself: nothing in it runs.
func (s *Server) photo(w http.ResponseWriter, r *http.Request, _ Pack, b *fieldbook.Book) {
	data, media, err := b.Photo(r.Context(), r.PathValue("hash"))
	switch {
	case err != nil:
		s.refuse(w, r, err)
		return
	case data == nil:
		http.Error(w, "this photo has not all come yet", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'; sandbox")
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	h.Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data) // the phone is gone
}
