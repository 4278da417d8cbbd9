package collect

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// found is an overlay that is made of marks.
type found struct {
	meta     record.Meta
	features []geojson.Feature
	data     []byte
	overlay  record.Overlay // as a pack will read it
}

// fileOf is the name of the overlay of a utility in a job folder.
func fileOf(utility string) string { return "overlays/found-" + utility + ".geojson" }

// IsFound reports whether a file that a job names is one that [Run] writes.
func IsFound(name string) bool {
	name = path.Clean(filepath.ToSlash(name))
	return slices.ContainsFunc(record.Utilities(), func(u record.Utility) bool { return name == fileOf(u.Code) })
}

// overlaysOf makes the overlays of marks, in the order of the color code. What is
// unlocatable has no place in them; what was looked for and not found is in none, because
// nobody may read it as a record.
func overlaysOf(marks []fieldbook.Mark, names *runNames) (all []found, err error) {
	byID, unlocated := map[string]fieldbook.Mark{}, map[string][]fieldbook.Mark{}
	for _, m := range marks {
		byID[m.ID] = m
		if m.Kind() == fieldbook.Unlocatable && !m.Struck {
			if u, err := record.FindUtility(record.Text(m.Feature.Properties, "utility")); err == nil {
				unlocated[u.Code] = append(unlocated[u.Code], m)
			}
		}
	}
	for _, o := range fieldbook.Overlays(marks) {
		f := found{meta: record.Meta{File: fileOf(o.Kind.Code), Utility: o.Kind.Code, Title: o.Title, Record: "field book",
			Datum: frameOf(o.Features)}}
		for _, feature := range o.Features {
			feature.Properties = flat(feature.Properties, byID[feature.ID])
			f.features = append(f.features, feature)
		}
		names.give(o.Kind.Code, f.features)
		for _, m := range unlocated[o.Kind.Code] {
			p := maps.Clone(m.Feature.Properties)
			p["who"], p["date"] = m.Written.Text.Who, m.Written.Text.Written().UTC().Format("2006-01-02T15:04:05Z")
			f.features = append(f.features, geojson.Feature{ID: m.ID, Properties: flat(p, m)})
		}
		var data bytes.Buffer
		if err := geojson.Write(&data, f.features); err != nil {
			return nil, err
		}
		f.data = data.Bytes()
		if f.overlay, err = record.Read(f.data, f.meta, "found-"+o.Kind.Code); err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}

// frameOf is the frame of reference of all positions; "" where there are several, or that
// of one is not known.
func frameOf(features []geojson.Feature) (frame string) {
	for i, f := range features {
		position, _ := f.Properties["position"].(map[string]any)
		own := record.PositionFrame(func(name string) string { return record.Text(position, name) })
		if own == "" || i > 0 && own != frame {
			return ""
		}
		frame = own
	}
	return frame
}

// The properties of a mark that go into an overlay: a file of records would be read by any
// other that a phone may have sent, such as a depth in another unit.
var texts = []string{"kind", "utility", "owner", "label", "line", "depth_as_written", "depth_of", "method", "quality_level", "reason",
	"note", "who", "date", "size", "material", "status"}

var numbers = []string{"depth_m", "depth_accuracy_m", "accuracy_m", "frequency_hz", "current_ma", "order", "rivals"}

// mostNumber is what a record may state of these, in meters: see [record.Read].
var mostNumber = map[string]float64{"depth_m": 100, "depth_accuracy_m": 100, "accuracy_m": 1000}

// flat gives the properties of a mark as a record has them: texts, numbers and truths. The
// position's evidence and the instrument's sentence begin with "position_" and
// "instrument_"; "mark" and "entry" are IDs of the field book.
func flat(p map[string]any, m fieldbook.Mark) map[string]any {
	out := map[string]any{"mark": m.ID, "entry": m.Leading.ID}
	for _, name := range texts {
		if v, is := p[name].(string); is && v != "" {
			out[name] = v
		}
	}
	for _, name := range numbers {
		v := record.Number(p, name)
		if most, bounded := mostNumber[name]; v != nil && (!bounded || *v >= 0 && *v <= most) {
			out[name] = *v
		}
	}
	if ended, is := p["line_ended"].(bool); is {
		out["line_ended"] = ended
	}
	for _, group := range []string{"position", "instrument"} {
		inner, _ := p[group].(map[string]any)
		if group == "position" && fieldbook.NotThere(inner) {
			inner = then(inner)
		}
		for name, v := range inner {
			switch v := v.(type) {
			case string, bool, float64:
				if v != "" && len(name) <= longestName {
					out[group+"_"+name] = v
				}
			}
		}
	}
	var names []string
	for _, photo := range photoNames(p) {
		names = append(names, photo.file())
	}
	if len(names) > 0 {
		out["photo"], out["photos"] = names[0], strings.Join(names, " ")
	}
	return out
}

// then is a position of another time or place, with names of its figures that nobody takes for an
// accuracy of the mark.
func then(position map[string]any) map[string]any {
	out := maps.Clone(position)
	for _, name := range []string{"error_m", "stated_m", "spread_m"} {
		if v, is := out[name]; is {
			delete(out, name)
			out["then_"+name] = v
		}
	}
	return out
}

// longestName bounds names that a phone made up.
const longestName = 40

// photo is a photo that a mark names.
type photo struct{ hash, media string }

// file is the name that a photo has outside of its book.
func (p photo) file() string {
	if p.media == "image/png" {
		return p.hash + ".png"
	}
	return p.hash + ".jpg"
}

func photoNames(p map[string]any) (all []photo) {
	list, _ := p["photos"].([]any)
	for _, one := range list {
		o, _ := one.(map[string]any)
		if hash := record.Text(o, "hash"); hash != "" {
			all = append(all, photo{hash, record.Text(o, "type")})
		}
	}
	return all
}

// rewriting is what changes in the job folder: overlays that differ, and their tables.
// frames are the frames of reference that the overlays had before, by file.
func (c *collecting) rewriting(all []found, frames map[string]string) (out job.Rewriting, err error) {
	out.Files = map[string][]byte{}
	wanted := map[string]bool{}
	var first []job.Change // before the numbers of tables change
	for _, f := range all {
		wanted[f.meta.File] = true
		line := OverlayLine{f.meta.File, f.meta.Utility, len(f.features), Same}
		there, err := os.ReadFile(filepath.Join(c.dir, filepath.FromSlash(f.meta.File)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			line.State = New
		case err != nil:
			return out, err
		case !bytes.Equal(there, f.data):
			line.State = Changed
		}
		if line.State != Same {
			out.Files[f.meta.File] = f.data
		}
		i := slices.IndexFunc(c.job.Overlays, func(m record.Meta) bool { return path.Clean(m.File) == f.meta.File })
		if i < 0 {
			out.Changes = append(out.Changes, job.OverlayChange(f.meta))
		} else if was := c.job.Overlays[i].Datum; was != f.meta.Datum && was == frames[f.meta.File] { // any other is somebody's own word
			change := job.Change{Path: fmt.Sprintf("overlay[%d].datum", i)}
			if f.meta.Datum != "" {
				change.Value = f.meta.Datum
			}
			first = append(first, change)
		}
		c.report.Overlays = append(c.report.Overlays, line)
	}
	gone := first                                       // the last first, so that the numbers hold
	for i, m := range slices.Backward(c.job.Overlays) { // all of its marks are struck: an empty one would say that nothing is there
		if IsFound(m.File) && !wanted[path.Clean(m.File)] {
			gone = append(gone, job.Change{Path: fmt.Sprintf("overlay[%d]", i)})
			out.Gone = append(out.Gone, m.File)
			c.report.Overlays = append(c.report.Overlays, OverlayLine{m.File, m.Utility, 0, Gone})
		}
	}
	out.Changes = append(gone, out.Changes...)
	c.changes = len(out.Changes)+len(out.Files)+len(out.Gone) > 0
	return out, nil
}
