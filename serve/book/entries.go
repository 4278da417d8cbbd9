package book

import (
	"context"
	"encoding/json"
	"mime"
	"net/http"
	"strconv"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/serve/auth"
	"groundsheet/serve/document"
)

// state tells a phone where the book stands.
func (s *Server) state(w http.ResponseWriter, r *http.Request, p Pack, b *fieldbook.Book) {
	latest, err := b.Latest(r.Context())
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	about := b.About()
	_, why := s.of(p.ID)
	s.reply(w, r, map[string]any{
		"role": auth.RoleOf(r).String(), "latest": latest, "units": p.File.Info.About.Units, "room": room(b.Path()), "trouble": trouble(why),
		"about": map[string]any{"book": about.Book, "name": about.Name, "number": about.Number, "seal": about.Seal},
	})
}

// most entries in one answer, which may hold fewer before the latest, and in one request.
const (
	mostGiven = 1000
	mostSent  = 200
)

// entries gives the entries after a number.
func (s *Server) entries(w http.ResponseWriter, r *http.Request, p Pack, b *fieldbook.Book) {
	after, err := strconv.ParseInt(r.URL.Query().Get("after"), 10, 64)
	if err != nil && r.URL.Query().Has("after") || after < 0 {
		http.Error(w, "want after=NUMBER, of an entry", http.StatusBadRequest)
		return
	}
	all, err := b.Entries(r.Context(), after, mostGiven)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	latest, err := b.Latest(r.Context())
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	type entry struct {
		Number   int64     `json:"number"`
		Received time.Time `json:"received"`
		Hash     string    `json:"hash"`
		Role     string    `json:"role"`
		Text     string    `json:"text"`
	}
	given := make([]entry, 0, len(all))
	for _, e := range all {
		given = append(given, entry{e.Number, e.Received, e.Hash, e.Role, string(e.Text)})
	}
	s.reply(w, r, map[string]any{"book": b.About().Book, "entries": given, "latest": latest, "home": atHome(r.Context(), p, b)})
}

// atHome is the number up to which entries of a book had come home when the pack was made; 0 =
// none, or not known: the pack means another book, or one that parted from this one.
func atHome(ctx context.Context, p Pack, b *fieldbook.Book) int64 {
	for _, h := range p.File.Info.About.Home {
		if h.Book != b.About().Book || h.Entries < 1 {
			continue
		}
		if all, err := b.Entries(ctx, h.Entries-1, 1); err == nil && len(all) == 1 && all[0].Number == h.Entries && all[0].Hash == h.Hash {
			return h.Entries
		}
	}
	return 0
}

// add adds entries to the book.
func (s *Server) add(w http.ResponseWriter, r *http.Request, p Pack, b *fieldbook.Book) {
	if media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || media != document.JSON {
		http.Error(w, `want {"entries": […]} as application/json`, http.StatusUnsupportedMediaType)
		return
	}
	var sent struct {
		Entries []string `json:"entries"`
	}
	if err := json.NewDecoder(r.Body).Decode(&sent); err != nil || len(sent.Entries) > mostSent {
		http.Error(w, `want {"entries": […]}: at most 200 texts, a megabyte in all`, http.StatusBadRequest)
		return
	}
	texts := make([][]byte, len(sent.Entries))
	for i, text := range sent.Entries {
		texts[i] = []byte(text)
	}
	from := fieldbook.Sender{Session: auth.PhoneOf(r).Name(), Role: auth.RoleOf(r).String()}
	receipts, err := b.Append(r.Context(), from, texts)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	latest, err := b.Latest(r.Context())
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	s.announce(p.ID, latest)
	s.reply(w, r, map[string]any{"receipts": receipts, "latest": latest})
}

// announce has phones told how far the book of a pack goes.
func (s *Server) announce(id string, latest int64) {
	if s.Latest != nil {
		s.Latest(id, latest)
	}
}

func (s *Server) reply(w http.ResponseWriter, r *http.Request, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		s.Responder.Fail(w, r, err)
		return
	}
	a := document.NewAsset(document.JSON, body)
	a.CacheControl = "no-store"
	a.ServeHTTP(w, r)
}
