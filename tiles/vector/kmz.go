package vector

import (
	"archive/zip"
	"path"
	"strings"

	"groundsheet/tiles/geojson"
)

// kmz reads the main KML of an archive: doc.kml, else the first. Network links
// to other KML of the same archive are part of it and are read too; all other
// links lead elsewhere and are not followed.
func (b *builder) kmz(f File) error {
	b.info.Format = "KMZ"
	a, err := openArchive(f.Data)
	if err != nil {
		return err
	}
	all := a.ending(".kml")
	if len(all) == 0 {
		return refuse(geojson.RuleEmpty, "file", "no .kml in the archive", "export the shapes as KML or KMZ")
	}
	k := &kmlReader{builder: b}
	read, err := k.linked(a, all, mainKML(all))
	if err != nil {
		return err
	}
	k.noteLeftOut(len(all)-read, "other KML file in the archive", "only the main one and those it links to are read")
	return k.finish()
}

func mainKML(all []*zip.File) *zip.File {
	for _, f := range all {
		if strings.EqualFold(f.Name, "doc.kml") {
			return f
		}
	}
	return all[0]
}

// linked reads a document and those it links to in the archive, each once.
// What is left in k.links leads elsewhere. It gives the number of documents.
func (k *kmlReader) linked(a *archive, all []*zip.File, first *zip.File) (int, error) {
	queue := []*zip.File{first}
	seen := map[*zip.File]bool{first: true}
	var elsewhere []string
	for i := 0; i < len(queue); i++ {
		data, err := a.read(queue[i])
		if err != nil {
			return 0, err
		}
		k.links = nil
		if err := k.document(data); err != nil {
			return 0, within("entry "+quote(queue[i].Name), err)
		}
		for _, href := range k.links {
			target := inside(all, queue[i].Name, href)
			switch {
			case target == nil:
				elsewhere = append(elsewhere, href)
			case !seen[target]:
				seen[target] = true
				queue = append(queue, target)
			}
		}
	}
	k.links = elsewhere
	return len(queue), nil
}

// inside finds the entry a link means, from the folder of the one it is in.
func inside(all []*zip.File, from, href string) *zip.File {
	want := path.Join(path.Dir(from), href)
	for _, f := range all {
		if f.Name == want {
			return f
		}
	}
	return nil
}
