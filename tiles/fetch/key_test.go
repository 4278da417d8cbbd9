package fetch_test

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store/folder"
)

// A source that repeats the key wherever it can: it must not be found in any
// error, log line or file.
func TestKeyNeverLeaks(t *testing.T) {
	const key = "s3cret/Key+42 ü"
	t.Setenv("GS_COUNTY_KEY", key)
	echo := func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("k") != key {
			t.Errorf("the key came as %q", r.URL.RawQuery)
		}
		raw := strings.TrimPrefix(r.URL.RawQuery, "k=")
		w.Header().Set("ETag", `"`+raw+`"`)
		w.Header().Set("Last-Modified", raw)
		w.Header().Set("Content-Type", "text/"+raw)
	}
	good := plain
	cases := map[string]func(w http.ResponseWriter, r *http.Request){
		"good":      func(w http.ResponseWriter, r *http.Request) { echo(w, r); w.Write(good) },
		"absent":    func(w http.ResponseWriter, r *http.Request) { echo(w, r); w.WriteHeader(404) },
		"page":      func(w http.ResponseWriter, r *http.Request) { echo(w, r); io.WriteString(w, "<html>"+key) },
		"text":      func(w http.ResponseWriter, r *http.Request) { echo(w, r); io.WriteString(w, key) },
		"forbidden": func(w http.ResponseWriter, r *http.Request) { hijacked(w, "HTTP/1.1 403 no "+key+"\r\n\r\n") },
		"odd":       func(w http.ResponseWriter, r *http.Request) { hijacked(w, "HTTP/1.1 418 "+key+"\r\n\r\n") },
		"bad location": func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Location", "http://%"+key)
			w.WriteHeader(302)
		},
		"other host": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://other.example/?"+r.URL.RawQuery, 302)
		},
		"key as host": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://"+url.PathEscape(key)+"/", 302)
		},
		"no HTTP": func(w http.ResponseWriter, r *http.Request) { hijacked(w, key+" "+r.URL.RawQuery+"\r\n\r\n") },
		"cut": func(w http.ResponseWriter, r *http.Request) {
			hijacked(w, "HTTP/1.1 200 "+key+"\r\nContent-Length: 9\r\n\r\n1")
		},
		"broken header": func(w http.ResponseWriter, r *http.Request) {
			hijacked(w, "HTTP/1.1 200 OK\r\nno colon "+key+"\r\n\r\n")
		},
	}
	for name, answer := range cases {
		t.Run(name, func(t *testing.T) {
			h := serve(t, answer)
			src := h.fast()
			src.URL, src.KeyEnv = h.URL+"/{z}/{x}/{y}?k={key}", "GS_COUNTY_KEY"
			dir := t.TempDir()
			texts := fetchAll(t, src, dir)
			if name != "good" && name != "absent" && len(texts) < 2 {
				t.Fatalf("no error: %q", texts)
			}
			for _, text := range append(texts, files(t, dir)...) {
				for _, form := range []string{"s3cret", "Key%2B42", "Key+42", "42 ü", "\"ü"} {
					if strings.Contains(text, form) {
						t.Errorf("%q is in %.200q", form, text)
					}
				}
			}
		})
	}
}

// fetchAll runs with a log and gives the log and every text of the error.
func fetchAll(t *testing.T, src source.Source, dir string) (texts []string) {
	t.Helper()
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s, _ := st.Shelf(src.StoreName())
	var log bytes.Buffer
	o := quick()
	o.Log = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	_, err = run(src, s, row(3), o)
	texts = append(texts, log.String())
	for ; err != nil; err = errors.Unwrap(err) {
		texts = append(texts, err.Error())
		if f, ok := errors.AsType[*fault.Fault](err); ok {
			texts = append(texts, f.Place, f.Detail, f.Remedy)
			err = f.Err
			texts = append(texts, err.Error())
		}
	}
	return texts
}

// files are names and contents of everything below a folder.
func files(t *testing.T, dir string) (texts []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		texts = append(texts, path, string(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return texts
}
