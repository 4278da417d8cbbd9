package handover

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/filehash"
	"groundsheet/tiles/words"
)

// ReadFirst is the name of the text that goes along with every hand-over.
const ReadFirst = "READ-FIRST.txt"

// folder is a hand-over while it is written: beside its final name, under another one.
type folder struct {
	path, part string
	notes      []string // on forms: what they lose
}

// begin makes the folder beside. One that is there is replaced only where it holds an
// earlier hand-over and nothing else.
func begin(ctx context.Context, path string) (*folder, error) {
	path = filepath.Clean(path)
	if err := replaceable(ctx, path); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	part, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return nil, err
	}
	return &folder{path: path, part: part}, os.Chmod(part, 0o755)
}

// abandon removes what was not finished.
func (w *folder) abandon() { _ = os.RemoveAll(w.part) }

// file is the path of a file to write, with its folder.
func (w *folder) file(name string) (string, error) {
	path := filepath.Join(w.part, filepath.FromSlash(name))
	return path, os.MkdirAll(filepath.Dir(path), 0o755)
}

func (w *folder) write(name string, data []byte) error {
	path, err := w.file(name)
	if err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o644)
}

// finish writes the text with the list of files, puts all on the disk, and gives the
// folder its name.
func (w *folder) finish(ctx context.Context, text string) (files []File, err error) {
	if files, err = list(ctx, w.part); err != nil {
		return nil, err
	}
	var b strings.Builder
	b.WriteString(text)
	for _, f := range files {
		fmt.Fprintf(&b, "%s  %s\r\n", f.SHA256, f.Name)
	}
	b.WriteString(sealLine(b.String()))
	if err := w.write(ReadFirst, []byte(b.String())); err != nil {
		return nil, err
	}
	if err := durable.SyncTree(w.part); err != nil {
		return nil, err
	}
	if err := replaceable(ctx, w.path); err != nil { // it may have been used meanwhile
		return nil, err
	}
	old := w.part + ".old"
	switch err := os.Rename(w.path, old); {
	case err == nil:
		defer os.RemoveAll(old) //nolint:errcheck // the new one stands in its place
	case !errors.Is(err, fs.ErrNotExist):
		return nil, err
	}
	if err := durable.Rename(w.part, w.path); err != nil {
		return nil, errors.Join(err, os.Rename(old, w.path))
	}
	return append([]File{{Name: ReadFirst, SHA256: sum([]byte(b.String())), Bytes: int64(b.Len())}}, files...), nil
}

// sealLine ends the text with its own hash: by it a change in the text is seen.
func sealLine(text string) string {
	return "\r\n" + words.Say("handover.sealed", "hash", sum([]byte(text))) + "\r\n"
}

// sealed reports whether a text is as [sealLine] ended it.
func sealed(text string) bool {
	at := strings.LastIndex(strings.TrimSuffix(text, "\r\n"), "\r\n\r\n")
	return at >= 0 && text[at+2:] == sealLine(text[:at+2])
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// list names the files of a folder, in the order of their names.
func list(ctx context.Context, dir string) (files []File, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		sum, n, err := filehash.Of(ctx, path)
		name, _ := filepath.Rel(dir, path)
		files = append(files, File{filepath.ToSlash(name), sum, n})
		return err
	})
	return files, err
}

// replaceable refuses a folder with anything but an earlier hand-over, as it was written.
func replaceable(ctx context.Context, path string) error {
	refuse := func(detail string) error {
		return &fault.Fault{Kind: Misuse, Place: path, Detail: detail, Remedy: "move it away, or name another folder with -o"}
	}
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !info.IsDir():
		return refuse("it is no folder")
	}
	files, err := list(ctx, path)
	if err != nil || len(files) == 0 {
		return err
	}
	text, err := os.ReadFile(filepath.Join(path, ReadFirst))
	if errors.Is(err, fs.ErrNotExist) {
		return refuse("it holds files that are no hand-over")
	}
	if err != nil {
		return err
	}
	if !sealed(string(text)) {
		return refuse(ReadFirst + " in it is not as it was handed over")
	}
	listed := strings.Split(string(text), "\r\n")
	for _, f := range files {
		if f.Name != ReadFirst && !slices.Contains(listed, f.SHA256+"  "+f.Name) {
			return refuse(fmt.Sprintf("%s in it is not as it was handed over", f.Name))
		}
	}
	return nil
}
