package imagery

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/gdal"
	"groundsheet/tiles/source"
)

// Remote is a picture that lies on a server and is read by ranges. Its reads obey
// the source's terms; they are the caller's.
type Remote struct {
	io.ReaderAt
	Size     int64
	Tag      string    // what the server names this version by; "" = it does not
	Modified time.Time // zero = not known
	// Refused is what the server answered to the last read, if that was no picture:
	// passed on to who asks for a tile
	Refused func() (status int, retryAfter string)
}

// opening is a source whose pictures are being looked at.
type opening struct {
	src    source.Source
	gdal   *gdal.Tools
	remote *served // nil = files of this computer
}

// address is where a picture is served to the child, "" for a file.
func (o *opening) address(p picture) string {
	if o.remote == nil || p.vrt {
		return ""
	}
	return o.remote.address
}

// mostPictures is how many files are looked at, each by a run of gdalinfo.
const mostPictures = 5000

// start finds the programs and serves the remote picture, if it is one.
func start(ctx context.Context, src source.Source, remote *Remote) (*opening, error) {
	g, err := openGDAL(ctx)
	if err != nil {
		return nil, err
	}
	o := &opening{src: src, gdal: g}
	if remote != nil {
		if o.remote, err = serveRanges(*remote); err != nil {
			return nil, errors.Join(err, g.Close())
		}
	}
	return o, nil
}

func (o *opening) close() error {
	if o.remote != nil {
		_ = o.remote.close() // nothing of it is kept
	}
	return o.gdal.Close()
}

// all looks at every picture of the source, in the order in which they lie on
// each other. aside are those of a folder that have no place on the ground.
func (o *opening) all(ctx context.Context) (found []picture, aside []string, err error) {
	var stated []picture
	fromFolder := false
	if o.remote != nil {
		stated = []picture{{path: gdal.Curl(o.remote.address), name: o.src.Redact(o.src.URL)}}
	}
	for _, path := range o.src.Pictures() {
		more, folder, err := o.resolve(ctx, path)
		if err != nil {
			return nil, nil, err
		}
		fromFolder = fromFolder || folder
		stated = append(stated, more...)
	}
	if len(stated) == 0 || len(stated) > mostPictures {
		return nil, nil, unusable(strings.Join(o.src.Pictures(), ", "), fmt.Sprintf("%d pictures are there: 1 to %d can be read", len(stated), mostPictures),
			"name a folder with pictures; put very many small ones together first, with gdalbuildvrt or gdal_merge")
	}
	looked, err := together(ctx, stated, func(ctx context.Context, p picture) (picture, error) { return o.look(ctx, p, false) })
	if err != nil {
		return nil, nil, err
	}
	if fromFolder {
		looked = slices.DeleteFunc(looked, func(p picture) bool {
			placeless := len(p.about.Transform) != 6
			if placeless {
				aside = append(aside, filepath.Base(p.name))
			}
			return placeless
		})
	}
	if len(looked) == 0 {
		return nil, nil, unusable(strings.Join(o.src.Pictures(), ", "), "none of its pictures says where on the ground it lies", "name pictures with a place, such as GeoTIFF")
	}
	found, err = together(ctx, looked, o.place)
	return found, aside, err
}

// together works on the pictures on all cores; the first error in their order
// counts.
func together(ctx context.Context, in []picture, work func(context.Context, picture) (picture, error)) ([]picture, error) {
	out, errs := make([]picture, len(in)), make([]error, len(in))
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var all sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		all.Go(func() {
			for i := range next {
				if out[i], errs[i] = work(ctx, in[i]); errs[i] != nil {
					stop()
				}
			}
		})
	}
	for i := range in {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	all.Wait()
	for _, err := range errs {
		if err != nil && !errors.Is(err, context.Canceled) {
			return nil, err
		}
	}
	return out, errors.Join(errs...)
}

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

// ground is what all pictures cover.
func ground(pictures []picture) tiles.Box {
	box := pictures[0].box
	for _, p := range pictures {
		box = box.Join(p.box)
	}
	return box
}

// HoldsPictures reports whether a folder, or one below it, has a file that is
// taken for a picture by its name.
func HoldsPictures(dir string) bool {
	found, err := listFolder(dir)
	return err == nil && len(found) > 0
}
