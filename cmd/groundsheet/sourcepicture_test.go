package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
)

// asked is an office with a source that keeps what it was asked for.
func asked(t *testing.T) (o *worker, body []byte, paths *[]string) {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 256, 256))); err != nil {
		t.Fatal(err)
	}
	paths = &[]string{}
	server := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		*paths = append(*paths, r.URL.Path)
		rw.Header().Set("Content-Type", "image/png")
		_, _ = rw.Write(b.Bytes()) // the test reads it
	}))
	t.Cleanup(server.Close)
	o = newWorker(t)
	o.write("sources.toml", fmt.Sprintf("[a]\nkind = \"xyz\"\nurl = %q\nzooms = [3, 18]\n", server.URL+"/{z}/{x}/{y}.png"))
	return o, b.Bytes(), paths
}

// TestSourceTryWantsAPlace: where nothing tells where a source has imagery,
// nothing is asked, and adding the source says that a place is wanted.
func TestSourceTryWantsAPlace(t *testing.T) {
	o, _, paths := asked(t)
	if code, out, err := o.do("source", "try", "a"); code != exitUse || len(*paths) != 0 || !strings.Contains(err, "--at LAT,LON") || !strings.Contains(err, "--job DIR") {
		t.Errorf("%d %s%s, asked %v", code, out, err, *paths)
	}
	if out := o.must(0, "source", "add", "http://tiles.example/{z}/{x}/{y}.png", "--zooms", "3,18", "--name", "b", "--to", o.path("other.toml")); !strings.Contains(out, "source try b --at LAT,LON") {
		t.Errorf("%s", out)
	}
}

// TestSourceTryJob asks for the middle of a job, however it is named.
func TestSourceTryJob(t *testing.T) {
	o, _, paths := asked(t)
	o.must(0, "new", o.path("job"), "--name", "x", "--around", "40.5,-140.5", "--radius", "100ft", "--source", "a")
	for _, args := range [][]string{{o.path("job")}, {"--job", o.path("job")}} {
		*paths = nil
		o.must(0, append([]string{"source", "try", "a"}, args...)...)
		if len(*paths) != 1 || (*paths)[0] != "/16/7190/24691.png" {
			t.Errorf("%v: asked %v", args, *paths)
		}
	}
	*paths = nil
	o.must(0, "source", "try", "a", o.path("job"), "--at", "0.1,0.1", "--zoom", "3")
	if len(*paths) != 1 || (*paths)[0] != "/3/4/3.png" {
		t.Errorf("a place goes before the job: asked %v", *paths)
	}
	if code, _, err := o.do("source", "try", "a", o.path("job"), "--job", o.path("none")); code != exitUse || !strings.Contains(err, "two job folders") {
		t.Errorf("%d %s", code, err)
	}
}

// TestSourceTrySave keeps the picture as it came, and writes over nothing else.
func TestSourceTrySave(t *testing.T) {
	o, body, paths := asked(t)
	try := func(file string) (int, string, string) {
		return o.do("source", "try", "a", "--at", "40.5,-140.5", "--save", file)
	}
	for range 2 { // also over itself
		code, out, err := try(o.path("look.png"))
		if got, _ := os.ReadFile(o.path("look.png")); code != 0 || !bytes.Equal(got, body) || !strings.Contains(out, o.path("look.png")) {
			t.Fatalf("%d %s%s", code, out, err)
		}
	}
	other := o.write("notes.png", "not a picture")
	o.write("look.jpg", string(body))
	before, n := o.snapshot(), len(*paths)
	for file, says := range map[string]string{other: "is there already", o.path("look.txt"): "ends in .jpg", o.path("look.jpg"): "is there already", o.path("no", "look.png"): "no folder"} {
		if code, _, err := try(file); code != exitUse || !strings.Contains(err, says) {
			t.Errorf("%s: %d %s", file, code, err)
		}
	}
	if len(*paths) != n {
		t.Error("something was asked that could not be kept")
	}
	if code, _, err := try(o.path("new.jpg")); code != exitUse || !strings.Contains(err, "ends in .png") {
		t.Errorf("%d %s", code, err)
	}
	if !maps.Equal(before, o.snapshot()) {
		t.Error("something was written")
	}
}
