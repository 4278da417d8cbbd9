package ship

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var (
	day   = time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC)
	files = []File{{Path: "b/c.txt", Data: []byte("text")}, {Path: "b/run", Data: []byte("code"), Program: true}, {Path: "a", Data: nil}}
)

// Files in another order give the same bytes.
func TestSameBytes(t *testing.T) {
	turned := slices.Clone(files)
	slices.Reverse(turned)
	for name, write := range map[string]func(io.Writer, []File, time.Time) error{"tar": TarGz, "zip": Zip,
		"deb": func(w io.Writer, f []File, at time.Time) error { return Deb{Files: f}.Write(w, at) }} {
		var one, other bytes.Buffer
		if err := errors.Join(write(&one, files, day), write(&other, turned, day)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one.Bytes(), other.Bytes()) {
			t.Errorf("%s: the order of the files shows", name)
		}
	}
}

func TestTarGz(t *testing.T) {
	var out bytes.Buffer
	if err := TarGz(&out, files, day); err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(&out)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if h.Uid != 0 || h.Uname != "root" || !h.ModTime.Equal(day) {
			t.Errorf("%s: of %d %s, %v", h.Name, h.Uid, h.Uname, h.ModTime)
		}
		got = append(got, h.FileInfo().Mode().String()+" "+h.Name)
	}
	want := "-rw-r--r-- a, drwxr-xr-x b/, -rw-r--r-- b/c.txt, -rwxr-xr-x b/run"
	if strings.Join(got, ", ") != want {
		t.Errorf("%v\nwant %s", got, want)
	}
}

func TestZip(t *testing.T) {
	var out bytes.Buffer
	if err := Zip(&out, files, day); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) != len(files) || z.File[1].Name != "b/c.txt" || !z.File[1].Modified.Equal(day) {
		t.Errorf("%+v", z.File)
	}
}

// dpkg-deb understands the package.
func TestDeb(t *testing.T) {
	tool, err := exec.LookPath("dpkg-deb")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip("dpkg-deb is not on this machine")
	}
	at := filepath.Join(t.TempDir(), "a.deb")
	f, err := os.Create(at)
	if err != nil {
		t.Fatal(err)
	}
	d := Deb{Fields: [][2]string{{"Package", "a"}, {"Version", "1"}, {"Architecture", "all"}, {"Maintainer", "a"}, {"Description", "short\n long"}},
		Scripts: []File{{Path: "postinst", Data: []byte("#!/bin/sh\n"), Program: true}},
		Files:   append([]File{{Path: "etc/default/a", Data: []byte("x=1\n")}}, Under("usr/share/a", files)...)}
	if err := errors.Join(d.Write(f, day), f.Close()); err != nil {
		t.Fatal(err)
	}
	for want, args := range map[string][]string{"/etc/default/a": {"--info", at, "conffiles"}, "Installed-Size: 1": {"--info", at},
		"usr/share/a/b/run": {"--contents", at}, "root/root": {"--contents", at}} {
		out, err := exec.Command(tool, args...).CombinedOutput()
		if err != nil || !strings.Contains(string(out), want) {
			t.Errorf("%v: %v\n%s\nwant %q", args, err, out, want)
		}
	}
}
