package fetch_test

import (
	"errors"
	"net/http"
	"strings"
	"testing"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

func TestRedirectOnTheSameHostIsFollowed(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if after, ok := strings.CutPrefix(r.URL.Path, "/moved"); ok {
			http.Redirect(w, r, "/v2"+after, http.StatusFound)
			return
		}
		if after, ok := strings.CutPrefix(r.URL.Path, "/20"); ok {
			http.Redirect(w, r, "/moved"+after, http.StatusMovedPermanently)
			return
		}
		w.Write(plain)
	})
	tally, err := run(h.fast(), shelf(t), row(4), quick())
	if err != nil || tally.New != 4 || tally.Requests != 12 {
		t.Errorf("%+v, %v: every hop is a request of its own", tally, err)
	}
}

func TestRedirectInCircles(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, r.URL.Path, http.StatusFound) })
	tally, err := run(h.fast(), shelf(t), row(1), quick())
	says(t, err, "more than 3 redirects")
	if tally.Requests != 4 {
		t.Errorf("%d requests, want the first and 3 redirects", tally.Requests)
	}
}

func TestRedirectToAnotherHostEndsTheRun(t *testing.T) {
	other := serve(t, sends(plain))
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, other.URL+"/sign-in", http.StatusFound)
	})
	_, err := run(h.fast(), shelf(t), row(20), quick())
	stoppedFor(t, err, fetch.StopRedirect, h.URL, other.URL, "sign-in page")
	if other.requests() != 0 {
		t.Error("the other host was asked")
	}
}

func TestRedirectToForbiddenHostIsRefused(t *testing.T) {
	for _, to := range []string{"https://tile.openstreetmap.org/1/2/3.png", "//A.TILE.OpenStreetMap.org.:443/1", "https://tile。openstreetmap。org/"} {
		h := serve(t, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Location", to)
			w.WriteHeader(307)
		})
		_, err := run(h.fast(), shelf(t), row(20), quick())
		if !errors.Is(err, source.Refused) || !strings.Contains(err.Error(), `"county"`) {
			t.Errorf("%s: %v (%T), want a Refused", to, err, err)
		}
	}
}

func TestRedirectToNowhere(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(302) })
	_, err := run(h.fast(), shelf(t), row(1), quick())
	says(t, err, "redirect (302 Found) to nowhere")
}
