package handover

import (
	"archive/zip"
	"context"
	"errors"
	"maps"
	"os"
	"path"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// sets are the lists that go into files of their own.
func (m *material) sets() []set {
	all := []set{{"found", words.Say("handover.found"), m.found}}
	if len(m.records) > 0 {
		all = append(all, set{"records", words.Say("handover.records"), m.records})
	}
	return all
}

// forms writes every form that was asked for.
func (w *folder) forms(ctx context.Context, m *material, o Options, s Summary) error {
	asked := func(f Form) bool { return slices.Contains(o.Forms, f) }
	name := record.Slug(o.Name)
	for _, set := range m.sets() {
		if err := w.tables(name+"-"+set.name, set, asked, m, o); err != nil {
			return err
		}
		if err := w.maps(ctx, name+"-"+set.name, set, asked, m, o); err != nil {
			return err
		}
	}
	if asked(GeoPackage) {
		at, err := w.file(name + ".gpkg")
		if err != nil {
			return err
		}
		sets := m.sets()
		for i := range sets {
			sets[i].finds = on(o.Ground, sets[i].finds)
		}
		base := o.Pack
		if !o.Tiles {
			base = nil
		}
		if err := writeGeoPackage(ctx, at, sets, o.Ground, base, m.changed()); err != nil {
			return err
		}
	}
	if asked(Report) {
		if err := w.report(ctx, m, o, s); err != nil {
			return err
		}
	}
	return w.photos(ctx, m)
}

// tables writes the forms that hold all fields: GeoJSON, CSV, shapefiles.
func (w *folder) tables(name string, s set, asked func(Form) bool, m *material, o Options) error {
	if asked(GeoJSON) {
		data, err := writeGeoJSON(on(Ground{}, s.finds))
		if err = errors.Join(err, w.write(name+".geojson", data)); err != nil {
			return err
		}
	}
	finds := on(o.Ground, s.finds)
	if asked(Shapefile) {
		files, notes, err := writeShapefiles(name, finds, o.Ground, m.changed())
		if err != nil {
			return err
		}
		files[name+"-fields.txt"] = []byte(strings.ReplaceAll(notes, "\n", "\r\n"))
		for _, file := range slices.Sorted(maps.Keys(files)) {
			if err := w.write(file, files[file]); err != nil {
				return err
			}
		}
	}
	if asked(CSV) || asked(Shapefile) || asked(DXF) || asked(GPX) { // these lose something, and it goes along
		data, err := writeCSV(finds, o.Ground)
		if err = errors.Join(err, w.write(name+".csv", data)); err != nil {
			return err
		}
	}
	return nil
}

// maps writes the forms that show: KML, KMZ, GPX, DXF.
func (w *folder) maps(ctx context.Context, name string, s set, asked func(Form) bool, m *material, o Options) error {
	title := s.title + ": " + o.Name
	about := words.Say("handover.about", "caution", words.Say("caution.always"))
	finds := on(Ground{}, s.finds)
	if asked(KML) {
		data, err := writeKML(title, about, finds, func(string) string { return "" })
		if err = errors.Join(err, w.write(name+".kml", data)); err != nil {
			return err
		}
	}
	if asked(KMZ) {
		if err := w.kmz(ctx, name+".kmz", m, title, about, finds); err != nil {
			return err
		}
	}
	if asked(GPX) {
		data, err := writeGPX(title, about, m.changed().Format("2006-01-02T15:04:05Z"), finds)
		if err = errors.Join(err, w.write(name+".gpx", data)); err != nil {
			return err
		}
	}
	if asked(DXF) {
		g, err := o.Ground.drawing(s.finds)
		if err != nil {
			return err
		}
		if g.degrees() {
			w.notes = append(w.notes, words.Say("handover.dxf_empty", "file", name+".dxf"))
			return nil
		}
		data, err := writeDXF(title, on(g, s.finds), g)
		if err = errors.Join(err, w.write(name+".dxf", data)); err != nil {
			return err
		}
		w.notes = append(w.notes, words.Say("handover.dxf_ground", "file", name+".dxf", "ground", g.Text()))
	}
	return nil
}

// kmz writes a KML with its photos.
func (w *folder) kmz(ctx context.Context, name string, m *material, title, about string, finds []Find) (err error) {
	at, err := w.file(name)
	if err != nil {
		return err
	}
	file, err := os.Create(at)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	z := zip.NewWriter(file)
	add := func(name string, data []byte, method uint16) error {
		to, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: m.changed()})
		if err == nil {
			_, err = to.Write(data)
		}
		return err
	}
	address := func(hash string) string { return "files/" + path.Base(m.photos[hash].name) }
	data, err := writeKML(title, about, finds, address)
	if err = errors.Join(err, add("doc.kml", data, zip.Deflate)); err != nil {
		return err
	}
	for _, hash := range photosOf(finds) {
		data, _, err := m.photos[hash].book.Photo(ctx, hash)
		if err = errors.Join(err, add(address(hash), data, zip.Store)); err != nil {
			return err
		}
	}
	return z.Close()
}

// photosOf are the photos of finds, each once.
func photosOf(finds []Find) (all []string) {
	for _, f := range finds {
		all = append(all, f.Photos...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// photos writes the photos of what goes along.
func (w *folder) photos(ctx context.Context, m *material) error {
	for _, hash := range photosOf(m.found) {
		data, _, err := m.photos[hash].book.Photo(ctx, hash)
		if err = errors.Join(err, w.write(m.photos[hash].name, data)); err != nil {
			return err
		}
	}
	return nil
}
