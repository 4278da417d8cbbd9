package archive

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/filehash"
)

// Line is a line of the list: a file and its SHA-256.
type Line struct {
	SHA256, File string
	bytes        int64
}

// String is the line as sha256sum writes it.
func (l Line) String() string { return l.SHA256 + "  " + l.File }

var lineForm = regexp.MustCompile(`^([0-9a-f]{64}) [ *](.+)$`)

// readList reads the list of an archive.
func readList(folder string) (all []Line, sum string, err error) {
	at := filepath.Join(folder, ListName)
	f, err := os.Open(at)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) {
		return nil, "", &fault.Fault{Kind: NotArchive, Place: folder, Detail: "is no archive: it has no " + ListName,
			Remedy: "name the folder that groundsheet archive made"}
	}
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	h := sha256.New()
	lines := bufio.NewScanner(io.TeeReader(io.LimitReader(f, mostFiles*4096), h))
	for lines.Scan() {
		m := lineForm.FindStringSubmatch(lines.Text())
		if m == nil || !fs.ValidPath(m[2]) || len(all) >= 2*mostFiles {
			return nil, "", &fault.Fault{Kind: NotArchive, Place: at, Detail: fmt.Sprintf("line %d is no hash and name of a file in the archive", len(all)+1),
				Remedy: "take another copy of the archive: the list of this one is damaged"}
		}
		all = append(all, Line{SHA256: m[1], File: m[2]})
	}
	return all, hex.EncodeToString(h.Sum(nil)), lines.Err()
}

// NotArchive is the kind of fault of a folder that is no archive.
var NotArchive = fault.Input("not an archive")

// lineOf hashes a file of a folder.
func lineOf(ctx context.Context, folder, name string) (Line, error) {
	sum, n, err := filehash.Of(ctx, filepath.Join(folder, filepath.FromSlash(name)))
	return Line{sum, name, n}, err
}

func sumOf(data []byte) string { return fmt.Sprintf("%x", sha256.Sum256(data)) }

// short is the beginning of a hash, as people compare it.
func short(sum string) string { return strings.Join([]string{sum[:4], sum[4:8]}, "-") }

// ListNameOf is the beginning of a list's hash, as people compare it.
func (m Made) ListNameOf() string { return short(m.List) }
