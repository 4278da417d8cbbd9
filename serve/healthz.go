package serve

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/words"
)

// routesHealth adds what tells whether the server is well: a word for programs,
// a page for people, and a document of the same.
func (s *Server) routesHealth() {
	s.mux.HandleFunc("GET /healthz", s.healthz)
	s.mux.HandleFunc("GET /status", s.statusPage)
	s.mux.HandleFunc("GET /status.json", s.statusDocument)
	s.mux.HandleFunc("GET /status.css", func(w http.ResponseWriter, r *http.Request) {
		newAsset("text/css; charset=utf-8", []byte(statusStyle)).serve(w, r)
	})
}

// pulse is the latest answer to the question whether all packs can be read.
type pulse struct {
	mu  sync.Mutex
	at  time.Time
	ill []string
}

// Times of looking whether packs can be read.
const (
	pulseEvery = time.Second     // more questions are answered from the latest look
	pulseTime  = 2 * time.Second // that reading a tile may take
)

// verdictHeader names the worst verdict on what is served: "fit", "unchecked" or
// "not fit".
const verdictHeader = "Groundsheet-Verdict"

// healthz answers "ok", or 503 and a line for each pack that cannot be read or is
// not fit. A server whose packs are not checked yet is well; the header tells.
func (s *Server) healthz(w http.ResponseWriter, r *http.Request) {
	ill, worst := slices.Clone(s.ailing()), check.Fit
	for _, p := range s.racks.served() {
		switch v := p.told(); {
		case v.NotFit():
			worst = check.NotFit
			ill = append(ill, p.id+": "+v.String())
		case !v.Fit() && worst == check.Fit:
			worst = Unchecked
		}
	}
	w.Header().Set(verdictHeader, worst)
	w.Header().Set("Cache-Control", "no-store")
	if len(ill) == 0 {
		writeText(w, "ok\n")
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(http.StatusServiceUnavailable)
	writeText(w, strings.Join(ill, "\n")+"\n")
}

// ailing is a line for each pack that cannot be read: one that was served and is
// not any more, unless it was taken out of its folder, and one whose tiles
// cannot be read.
func (s *Server) ailing() []string {
	p := &s.watch.pulse
	p.mu.Lock()
	defer p.mu.Unlock()
	now := s.now()
	if age := now.Sub(p.at); age >= 0 && age < pulseEvery {
		return p.ill
	}
	p.ill = nil
	for _, l := range s.racks.slots.Load().all {
		if l.id == "" {
			continue // no pack was ever there
		}
		if why := s.feel(l); why != "" {
			p.ill = append(p.ill, l.id+": "+why)
		}
	}
	p.at = now
	return p.ill
}

// feel reads a tile in the middle of what a slot serves.
func (s *Server) feel(l *slot) string {
	p := l.take()
	if p == nil {
		if l.folder != "" && !exists(l.path) {
			return ""
		}
		return words.Say("laptop.not_served")
	}
	defer p.release()
	if ill := p.ill(); ill != "" {
		return ill
	}
	ctx, cancel := context.WithTimeout(context.Background(), pulseTime)
	defer cancel()
	info := p.pack.Info
	lon, lat := info.Bounds.Center()
	if _, _, err := p.pack.Nearest(ctx, tiles.At(lon, lat, info.Zooms.Max)); err != nil {
		return words.Say("laptop.unreadable")
	}
	return ""
}
