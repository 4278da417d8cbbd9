package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"

	"groundsheet/tiles/practice"
)

func jpegOf(t *testing.T, side int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, side, side)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestBadServers: what is not a whole tile is not stored, no pack is written,
// the message names the cause, and the same job goes on once the source is
// well.
func TestBadServers(t *testing.T) {
	whole := jpegOf(t, 256)
	answer := func(body []byte, media string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", media)
			_, _ = w.Write(body)
		}
	}
	status := func(code int) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "no", code) }
	}
	cases := map[string]struct {
		handler http.HandlerFunc
		says    string
	}{
		"HTML with 200":   {answer([]byte("<!doctype html><title>Sign in</title>"), "image/jpeg"), "HTML"},
		"truncated JPEG":  {answer(whole[:len(whole)-20], "image/jpeg"), "cut short"},
		"wrong size":      {answer(jpegOf(t, 512), "image/jpeg"), "512"},
		"empty":           {answer(nil, "image/jpeg"), "no bytes"},
		"40 MB":           {answer(make([]byte, 40<<20), "image/jpeg"), "longer than"},
		"cut connection":  {cutShort(whole), "cut"},
		"no entry":        {status(403), "403"},
		"captive portal":  {status(511), "portal"},
		"always an error": {status(500), "500"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // most of the time is polite waiting
			o := newWorker(t)
			var well atomic.Bool
			good := practice.New(practice.Options{BusyEvery: -1})
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if well.Load() {
					good.ServeHTTP(w, r)
					return
				}
				c.handler(w, r)
			}))
			defer server.Close()
			o.source("town", server.URL+"/{z}/{x}/{y}.jpg", "")
			o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "30ft", "--zooms", "18,19")
			code, out, err := o.do("pack", o.path("site"))
			if code != exitOutside || !strings.Contains(err, c.says) {
				t.Errorf("exit %d: %s%s", code, out, err)
			}
			if _, err := os.Stat(o.packPath()); err == nil {
				t.Error("a pack was written")
			}
			well.Store(true)
			var p packed
			decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
			if p.Fetched != p.Wanted {
				t.Errorf("something bad was stored: %+v", p)
			}
		})
	}
}

// cutShort promises a whole image and hangs up in the middle.
func cutShort(whole []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Length", fmt.Sprint(len(whole)))
		_, _ = w.Write(whole[:len(whole)/2])
		if conn, _, err := w.(http.Hijacker).Hijack(); err == nil {
			_ = conn.Close()
		}
	}
}

// TestBadPacks: check and serve refuse what is no pack, and leave it alone.
func TestBadPacks(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	whole, err := os.ReadFile(o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	cut := o.write("cut.mbtiles", string(whole[:len(whole)*2/3]))
	flipped := bytes.Clone(whole)
	for i := len(flipped) / 2; i < len(flipped)/2+4096; i++ {
		flipped[i] ^= 0xff
	}
	damaged := o.write("damaged.mbtiles", string(flipped))
	before := o.snapshot()
	if code, _, err := o.do("check", cut); code != exitUse || !strings.Contains(err, "cut short") {
		t.Errorf("truncated: exit %d: %s", code, err)
	}
	if code, out, err := o.do("check", damaged); code != exitNotFit || !strings.Contains(out, "not fit") {
		t.Errorf("damaged: exit %d: %s%s", code, out, err)
	}
	if !maps.Equal(before, o.snapshot()) {
		t.Error("something changed on disk")
	}
}
