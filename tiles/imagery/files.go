package imagery

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// resolve finds the pictures that a stated path means: a picture, a VRT or a folder.
func (o *opening) resolve(ctx context.Context, path string) (found []picture, folder bool, err error) {
	path, err = filepath.Abs(path)
	if err != nil {
		return nil, false, err
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, false, unusable(path, withoutPath(err), "name a picture or a folder of pictures: file in sources.toml")
	}
	if info.IsDir() {
		found, err = listFolder(path)
		return found, true, err
	}
	vrt, err := false, error(nil)
	if info.Mode().IsRegular() {
		vrt, err = isVRT(path)
	}
	if err != nil {
		return nil, false, unusable(path, err.Error(), "make it readable")
	}
	if vrt {
		p, err := o.mosaic(ctx, path)
		return []picture{p}, false, err
	}
	p, err := plainFile(path)
	return []picture{p}, false, err
}

func plainFile(path string) (picture, error) {
	real, err := filepath.EvalSymlinks(path)
	if err == nil {
		err = checkFile(real)
	}
	if err != nil {
		return picture{}, unusable(path, err.Error(), "name a picture: GeoTIFF, JPEG 2000 …")
	}
	p := picture{path: real, name: path}
	p.stamp, err = stampOf(real)
	return p, err
}

// endings are of files that are taken for pictures in a folder.
var endings = strings.Fields(".tif .tiff .jp2 .j2k .img .ecw .sid .png .jpg .jpeg .jxl .webp .bmp .gif")

// listFolder lists the pictures of a folder and those below it, by name. Links
// to folders are not followed.
func listFolder(dir string) (found []picture, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		hidden := strings.HasPrefix(d.Name(), ".") && path != dir
		switch {
		case err != nil:
			return unusable(path, withoutPath(err), "make the folder readable")
		case d.IsDir() && (hidden || strings.Count(path[len(dir):], string(filepath.Separator)) > 4):
			return filepath.SkipDir
		case hidden || !d.Type().IsRegular() || !slices.Contains(endings, strings.ToLower(filepath.Ext(path))):
			return nil
		case len(found) > mostPictures:
			return filepath.SkipAll
		}
		p, err := plainFile(path)
		found = append(found, p)
		return err
	})
	return found, err
}

// mosaic reads a VRT, looks at every file that it names, and writes it anew
// where the child can read it.
func (o *opening) mosaic(ctx context.Context, path string) (picture, error) {
	p := picture{name: path, vrt: true}
	text, files, err := readVRT(path)
	if err != nil {
		return p, err
	}
	var parts []picture
	for _, f := range files {
		parts = append(parts, picture{path: f, name: f})
	}
	if _, err := together(ctx, parts, func(ctx context.Context, part picture) (picture, error) { return o.look(ctx, part, false) }); err != nil {
		return p, err
	}
	if p.stamp, err = stampOf(path); err != nil {
		return p, err
	}
	for _, f := range append(files, path+".ovr") {
		s, err := stampOf(f)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		} else if err != nil {
			return p, err
		}
		p.stamp.size += s.size
		if s.modified.After(p.stamp.modified) {
			p.stamp.modified = s.modified
		}
	}
	dir, err := os.MkdirTemp(o.gdal.Dir, "vrt")
	if err != nil {
		return p, err
	}
	p.path = filepath.Join(dir, "mosaic.vrt")
	if overviews := path + ".ovr"; checkFile(overviews) == nil {
		_ = os.Symlink(overviews, p.path+".ovr") // without them it is only slower
	}
	return p, os.WriteFile(p.path, text, 0o600)
}

// HoldsPictures reports whether a folder, or one below it, has a file that is
// taken for a picture by its name.
func HoldsPictures(dir string) bool {
	found, err := listFolder(dir)
	return err == nil && len(found) > 0
}
