package vector

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/tiles/geojson"
)

// Open reads a file from disk for [Read]. Its side files are those of the same
// folder and name, whatever the case of their ending. A file that is not there
// is an error of package os.
func Open(name string) (File, error) {
	info, err := os.Stat(name)
	if err != nil {
		return File{}, err
	}
	if info.IsDir() {
		return File{}, refuse(RuleFormat, name, "it is a folder", "give a file")
	}
	if info.Size() > MaxBytes {
		return File{}, refuse(geojson.RuleSize, name, fmt.Sprintf("the file has %d MiB; %d is the most", info.Size()>>20, MaxBytes>>20),
			"simplify the shapes or split the file")
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return File{}, err
	}
	return File{Name: filepath.Base(name), Data: data, Beside: func(ending string) ([]byte, error) { return beside(name, ending) }}, nil
}

func beside(name, ending string) ([]byte, error) {
	want := strings.TrimSuffix(filepath.Base(name), filepath.Ext(name)) + ending
	entries, err := os.ReadDir(filepath.Dir(name))
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if strings.EqualFold(e.Name(), want) && !e.IsDir() {
			return readSide(filepath.Join(filepath.Dir(name), e.Name()))
		}
	}
	return nil, fmt.Errorf("%s: %w", want, fs.ErrNotExist)
}

func readSide(name string) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if info.Size() > MaxBytes {
		return nil, fmt.Errorf("it has %d MiB; %d is the most", info.Size()>>20, MaxBytes>>20)
	}
	return os.ReadFile(name)
}
