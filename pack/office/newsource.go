package office

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/vector"
)

// SourcesPath is the sources file that counts for a job folder ("" = for none), and
// that a new source is written to.
func (o Office) SourcesPath(jobDir string) (string, error) {
	if o.SourcesFile != "" {
		return o.SourcesFile, nil
	}
	if jobDir != "" {
		own := filepath.Join(jobDir, "sources.toml")
		if _, err := os.Stat(own); !errors.Is(err, os.ErrNotExist) {
			return own, nil
		}
	}
	path, err := UserSources()
	if err != nil {
		return "", &fault.Fault{Detail: fmt.Sprintf("there is no user config folder (%v)", err), Remedy: "name a file with --to FILE"}
	}
	return path, nil
}

// NewSource is a source to be added, as a person states it. What is left empty is
// asked for at the service.
type NewSource struct {
	Where                            string // an address, a file or a folder
	Layer, Format, MatrixSet, KeyEnv string
	Contact                          string // sent with the requests
	Zooms                            tiles.Zooms
	Draw                             []source.Draw // files that are drawn: streets, parcels and others; see [DrawOf]
	// How pictures of the operator's own are read; Files are all of them where there
	// are several. CRS is the system of those that name none.
	Pictures source.Raster
	CRS      string
}

// DrawOf are files that can be drawn, each perhaps with its role before it:
// "street=roads.shp". crs is the system of those that state none, such as "EPSG:2231",
// or "". It is nil when one of them is no such file, and no role is given.
func DrawOf(paths []string, crs string) (all []source.Draw, err error) {
	stated := false
	epsg, _ := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(crs), "EPSG:")) // 0 = not stated
	for _, path := range paths {
		role, file, has := strings.Cut(path, "=")
		if has = has && slices.Contains(source.Roles(), source.Role(role)); !has {
			role, file = "", path
		}
		stated = stated || has
		if !has && (strings.Contains(path, "://") || !slices.Contains(vector.Endings(), strings.ToLower(filepath.Ext(file)))) {
			if stated {
				return nil, &fault.Fault{Place: path, Detail: "not a file that can be drawn", Remedy: "give one of " + strings.Join(vector.Endings(), " ")}
			}
			return nil, nil
		}
		if file, err = filepath.Abs(file); err != nil {
			return nil, err
		}
		all = append(all, source.Draw{File: file, Role: source.Role(role), EPSG: epsg})
	}
	return all, nil
}

// Offers asks an address what it is. hidden says that a key was taken out of the
// address: it is kept in the environment of this process alone.
func (n NewSource) Offers(ctx context.Context) (offers []discover.Offer, hidden bool, err error) {
	draft, hidden, err := n.draft()
	if err != nil {
		return nil, false, err
	}
	offers, err = discover.Describe(ctx, draft, discover.Options{Contact: n.Contact})
	return offers, hidden, err
}

func (n NewSource) draft() (draft source.Source, hidden bool, err error) {
	draft = source.Source{Layer: n.Layer, Format: n.Format, MatrixSet: n.MatrixSet, KeyEnv: n.KeyEnv, Zooms: n.Zooms}
	if n.Draw != nil {
		draft.Kind, draft.Draw = source.KindDrawn, n.Draw
		return draft, false, nil
	}
	if err := n.pictures(&draft); err != nil || len(draft.Files) > 0 {
		return draft, false, err
	}
	if !strings.Contains(n.Where, "://") {
		draft.File, err = filepath.Abs(n.Where)
		return draft, false, err
	}
	var key string
	if draft.URL, key, err = source.HideKey(n.Where); err != nil {
		return draft, false, &fault.Fault{Detail: err.Error(), Remedy: "see groundsheet source add --help"}
	}
	if key != "" {
		if draft.KeyEnv, err = keepKey(draft.URL, n.KeyEnv, key); err != nil {
			return draft, false, err
		}
	}
	if strings.Contains(draft.URL, "{key}") && draft.KeyEnv == "" {
		return draft, false, &fault.Fault{Detail: "the address has {key}",
			Remedy: "name the environment variable that holds it: --key-env COUNTY_KEY"}
	}
	return draft, key != "", nil
}

// pictures adds what is stated of pictures, checked as the sources file is.
func (n NewSource) pictures(draft *source.Source) (err error) {
	if n.CRS == "" && n.Pictures.Empty() {
		return nil
	}
	draft.Kind, draft.Raster, draft.CRS = source.KindRaster, n.Pictures, n.CRS
	draft.Files = slices.Clone(n.Pictures.Files)
	for i, f := range draft.Files {
		if draft.Files[i], err = filepath.Abs(f); err != nil {
			return err
		}
	}
	checked := *draft
	if len(draft.Files) == 0 {
		checked.File = n.Where // or an address: what is stated beside it is looked at
	}
	return checked.CheckRaster()
}

// keepKey puts a key where this run finds it: in an environment variable that is
// not set to anything else.
func keepKey(address, name, key string) (string, error) {
	if name == "" {
		u, err := url.Parse(address)
		if err != nil {
			u = &url.URL{Host: "source"}
		}
		name = strings.ToUpper(strings.ReplaceAll(slug(u.Hostname()), "-", "_")) + "_KEY"
		if name[0] >= '0' && name[0] <= '9' {
			name = "MAP_" + name
		}
	}
	if old, is := os.LookupEnv(name); is && old != "" && old != key {
		return "", &fault.Fault{Detail: "the environment variable " + name + " is set to another key than the one in the address",
			Remedy: "write {key} in the address, or name another variable with --key-env"}
	}
	return name, os.Setenv(name, key)
}

// NameFor makes a name from the layer, the title, the file or the host.
func NameFor(o discover.Offer, where string) string {
	texts := []string{o.Source.Layer, o.Title}
	if len(o.Source.Draw) > 0 {
		where = o.Source.Draw[0].File
	}
	if o.Source.File != "" || len(o.Source.Files)+len(o.Source.Draw) > 0 {
		before, _, _ := strings.Cut(where, "{")
		base := filepath.Base(strings.TrimRight(before, `/\`))
		texts = []string{strings.TrimSuffix(base, filepath.Ext(base))}
	}
	if u, err := url.Parse(o.Source.URL); err == nil {
		texts = append(texts, u.Hostname())
	}
	i := slices.IndexFunc(texts, func(t string) bool { return slug(t) != "" && slug(t) != source.KindPractice })
	if i < 0 {
		return "map"
	}
	return slug(texts[i])
}

var others = regexp.MustCompile(`[^a-z0-9]+`)

// slug keeps letters and digits, everything else becomes single dashes.
func slug(text string) string {
	s := strings.TrimLeft(others.ReplaceAllString(strings.ToLower(text), "-"), "-")
	return strings.TrimRight(s[:min(len(s), 50)], "-")
}
