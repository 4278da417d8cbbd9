package vector

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"

	"groundsheet/tiles/geojson"
)

// archive reads entries of a zip and counts what they grow to.
type archive struct {
	files []*zip.File
	left  int64 // bytes that may still be read
}

func openArchive(data []byte) (*archive, error) {
	const remedy = "pack the file again"
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, refuse(RuleArchive, "file", "the zip archive cannot be read: "+err.Error(), remedy)
	}
	if len(z.File) > MaxEntries {
		return nil, refuse(geojson.RuleSize, "file", fmt.Sprintf("the archive has %d entries; %d is the most",
			len(z.File), MaxEntries),
			"pack only the shapes")
	}
	a := &archive{left: MaxInflated}
	for _, f := range z.File {
		if !plainName(f.Name) {
			return nil, refuse(RuleArchive, "entry "+quote(f.Name), "the name leads out of the archive", remedy)
		}
		// shadow copies of one system's archiver
		if !strings.HasSuffix(f.Name, "/") && !strings.HasPrefix(f.Name, "__MACOSX/") {
			a.files = append(a.files, f)
		}
	}
	return a, nil
}

// plainName refuses absolute names, "..", and names of another system's paths.
func plainName(name string) bool {
	if name == "" || strings.HasPrefix(name, "/") || strings.ContainsAny(name, "\\:\x00") {
		return false
	}
	for part := range strings.SplitSeq(name, "/") {
		if part == ".." {
			return false
		}
	}
	return true
}

// read inflates one entry, counting while it reads: sizes an archive states
// are not believed.
func (a *archive) read(f *zip.File) ([]byte, error) {
	place := "entry " + quote(f.Name)
	const encrypted = 1
	if f.Flags&encrypted != 0 {
		return nil, refuse(RuleArchive, place, "it is locked with a password", "pack the file without one")
	}
	r, err := f.Open()
	if err != nil {
		return nil, refuse(RuleArchive, place, "it cannot be read: "+err.Error(), "pack the file again")
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, a.left+1))
	if a.left -= int64(len(data)); a.left < 0 {
		return nil, refuse(geojson.RuleSize, place, sizes("the archive grows beyond %[2]d MiB", 0, MaxInflated),
			"pack only the shapes, or unpack the archive and give the file")
	}
	if err != nil {
		return nil, refuse(RuleArchive, place, "it cannot be read: "+err.Error(), "pack the file again")
	}
	return data, nil
}

// ending lists the entries with an ending, whatever its case.
func (a *archive) ending(ending string) []*zip.File {
	var all []*zip.File
	for _, f := range a.files {
		if strings.EqualFold(path.Ext(f.Name), ending) {
			all = append(all, f)
		}
	}
	return all
}

// beside finds the entry of the same folder and name with another ending.
func (a *archive) beside(f *zip.File, ending string) *zip.File {
	want := strings.TrimSuffix(f.Name, path.Ext(f.Name)) + ending
	for _, other := range a.files {
		if strings.EqualFold(other.Name, want) {
			return other
		}
	}
	return nil
}
