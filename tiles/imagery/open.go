package imagery

import (
	"context"
	"errors"
	"fmt"
	"io"
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

// ground is what all pictures cover.
func ground(pictures []picture) tiles.Box {
	box := pictures[0].box
	for _, p := range pictures {
		box = box.Join(p.box)
	}
	return box
}
