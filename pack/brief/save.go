package brief

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/pack"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// Saved is a brief in two files.
type Saved struct {
	Summary
	PDF, Page string
}

// Save writes the brief of a pack file as a PDF, and as a page beside it: to the named
// PDF, "" = beside the pack. Either file is whole or as it was. A file that is there is
// written over only if it is of the same kind: never a pack.
func Save(ctx context.Context, packFile, pdfFile string, o Options) (s Saved, err error) {
	if s.PDF, s.Page, err = files(packFile, pdfFile); err != nil {
		return s, err
	}
	p, err := pack.Open(ctx, packFile)
	if err != nil {
		return s, err
	}
	defer func() {
		if closing := p.Close(); err == nil {
			err = closing
		}
	}()
	var pdf, page bytes.Buffer
	if s.Summary, err = Write(ctx, p, &pdf, &page, o); err != nil {
		return s, err
	}
	return s, errors.Join(durable.Write(s.Page, page.Bytes(), 0o644), durable.Write(s.PDF, pdf.Bytes(), 0o644))
}

// files says where the two files go.
func files(packFile, pdf string) (string, string, error) {
	refuse := func(what, remedy string) (string, string, error) {
		return "", "", &fault.Fault{Kind: Misuse, Detail: what, Remedy: remedy}
	}
	if pdf == "" {
		pdf = strings.TrimSuffix(packFile, filepath.Ext(packFile)) + ".pdf"
	}
	if !strings.EqualFold(filepath.Ext(pdf), ".pdf") {
		return refuse(fmt.Sprintf("-o %s is no PDF file", pdf), "give it a name that ends in .pdf")
	}
	page := pdf[:len(pdf)-len(".pdf")] + ".html"
	if info, err := os.Stat(filepath.Dir(pdf)); err != nil || !info.IsDir() {
		return refuse(fmt.Sprintf("there is no folder %s", filepath.Dir(pdf)), "make it, or name another with -o")
	}
	for _, one := range []struct{ path, begins string }{{pdf, "%PDF-"}, {page, "<!doctype html>"}} {
		if sameFile(one.path, packFile) {
			return refuse(one.path+" is the pack itself", "give the brief another name with -o")
		}
		there, err := beginning(one.path, len(one.begins))
		if err != nil {
			return "", "", err
		}
		if there != "" && !strings.EqualFold(there, one.begins) {
			return refuse(one.path+" is there already and is no brief", "give the brief another name with -o")
		}
	}
	return pdf, page, nil
}

func sameFile(a, b string) bool {
	one, errOne := os.Stat(a)
	two, errTwo := os.Stat(b)
	return errOne == nil && errTwo == nil && os.SameFile(one, two)
}

// beginning gives the first bytes of a file; "" when there is none or it is
// empty.
func beginning(path string, most int) (string, error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || !info.Mode().IsRegular() {
		return "", errors.Join(err, &fault.Fault{Kind: Misuse, Detail: path + " is no file", Remedy: "give the brief another name with -o"})
	}
	b := make([]byte, most)
	n, _ := file.Read(b) // an empty file may be written over
	return string(b[:n]), nil
}
