// Package ship puts a built program into what people download: archives, Debian packages,
// the licenses and the list of what is inside. The same files give the same bytes.
package ship

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"
)

// File is one file of an archive, by its path there with slashes.
type File struct {
	Path    string
	Data    []byte
	Program bool // may be run
}

func (f File) mode() int64 {
	if f.Program {
		return 0o755
	}
	return 0o644
}

func sorted(files []File) []File {
	return slices.SortedFunc(slices.Values(files), func(a, b File) int { return strings.Compare(a.Path, b.Path) })
}

// Under gives the files in a folder.
func Under(dir string, files []File) []File {
	moved := slices.Clone(files)
	for i := range moved {
		moved[i].Path = path.Join(dir, moved[i].Path)
	}
	return moved
}

// TarGz writes the files, and their folders, as of one time, owned by root.
func TarGz(w io.Writer, files []File, at time.Time) error {
	z, err := gzip.NewWriterLevel(w, gzip.DefaultCompression)
	if err != nil {
		return err
	}
	t := tar.NewWriter(z)
	made := map[string]bool{}
	for _, f := range sorted(files) {
		for _, dir := range foldersOf(f.Path) {
			if !made[dir] {
				made[dir] = true
				if err := t.WriteHeader(header(dir+"/", tar.TypeDir, 0o755, 0, at)); err != nil {
					return err
				}
			}
		}
		if err := t.WriteHeader(header(f.Path, tar.TypeReg, f.mode(), int64(len(f.Data)), at)); err != nil {
			return err
		}
		if _, err := t.Write(f.Data); err != nil {
			return err
		}
	}
	if err := t.Close(); err != nil {
		return err
	}
	return z.Close()
}

func header(name string, kind byte, mode, size int64, at time.Time) *tar.Header {
	return &tar.Header{Name: name, Typeflag: kind, Mode: mode, Size: size, ModTime: at, Uname: "root", Gname: "root", Format: tar.FormatGNU}
}

// foldersOf gives the folders above a path, the topmost first.
func foldersOf(name string) []string {
	var all []string
	for dir := path.Dir(name); dir != "." && dir != "/"; dir = path.Dir(dir) {
		all = append([]string{dir}, all...)
	}
	return all
}

// Zip writes the files as of one time.
func Zip(w io.Writer, files []File, at time.Time) error {
	z := zip.NewWriter(w)
	for _, f := range sorted(files) {
		to, err := z.CreateHeader(&zip.FileHeader{Name: f.Path, Method: zip.Deflate, Modified: at.UTC()})
		if err != nil {
			return err
		}
		if _, err := to.Write(f.Data); err != nil {
			return err
		}
	}
	return z.Close()
}

// Deb is a Debian package. Scripts are the files of its control part, such as "postinst";
// what begins with etc/ is configuration that its owner may have changed.
type Deb struct {
	Fields  [][2]string // of the control file, in order
	Scripts []File
	Files   []File // with paths from the root
}

// Write writes the package, as of one time (deb(5), version 2.0).
func (d Deb) Write(w io.Writer, at time.Time) error {
	var control, settings strings.Builder
	size := 0
	for _, f := range sorted(d.Files) {
		size += len(f.Data)
		if strings.HasPrefix(f.Path, "etc/") {
			fmt.Fprintf(&settings, "/%s\n", f.Path)
		}
	}
	for _, f := range d.Fields {
		fmt.Fprintf(&control, "%s: %s\n", f[0], f[1])
	}
	fmt.Fprintf(&control, "Installed-Size: %d\n", (size+1023)/1024)
	about := append(slices.Clone(d.Scripts), File{Path: "control", Data: []byte(control.String())})
	if settings.Len() > 0 {
		about = append(about, File{Path: "conffiles", Data: []byte(settings.String())})
	}
	var head, body bytes.Buffer
	if err := TarGz(&head, Under("", about), at); err != nil {
		return err
	}
	if err := TarGz(&body, d.Files, at); err != nil {
		return err
	}
	return ar(w, at, File{Path: "debian-binary", Data: []byte("2.0\n")},
		File{Path: "control.tar.gz", Data: head.Bytes()}, File{Path: "data.tar.gz", Data: body.Bytes()})
}

// ar writes an archive of the kind of ar(1).
func ar(w io.Writer, at time.Time, files ...File) error {
	var all bytes.Buffer
	all.WriteString("!<arch>\n")
	for _, f := range files {
		fmt.Fprintf(&all, "%-16s%-12d%-6d%-6d%-8s%-10d`\n", f.Path, at.Unix(), 0, 0, "100644", len(f.Data))
		all.Write(f.Data)
		if len(f.Data)%2 == 1 {
			all.WriteByte('\n')
		}
	}
	_, err := w.Write(all.Bytes())
	return err
}
