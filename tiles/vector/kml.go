package vector

import (
	"archive/zip"
	"encoding/xml"
	"fmt"
	"path"
	"strings"

	"groundsheet/tiles/geojson"
)

// kml reads a .kml; one that is a zip is a KMZ.
func (b *builder) kml(f File) error {
	if sniff(f.Data) == isZip {
		return b.kmz(f)
	}
	b.info.Format = "KML"
	k := &kmlReader{builder: b}
	if err := k.document(f.Data); err != nil {
		return err
	}
	return k.finish()
}

// kmlReader reads KML 2.2 and 2.3. Styles are not followed, and no href is
// ever fetched.
type kmlReader struct {
	*builder
	m           *xmlReader
	placemarks  int
	links       []string // what the network links point to
	pictures    int
	empty       int
	tracks      int
	models      int
	otherShapes int
}

// document reads one KML text.
func (k *kmlReader) document(data []byte) error {
	k.info.Datum = wgs84
	k.m = newMarkup(data)
	root, err := k.m.root()
	if err != nil {
		return err
	}
	if root.Name.Local != "kml" {
		return refuse(RuleFormat, k.m.place(), "the root element is "+quote(root.Name.Local)+", not \"kml\"",
			"give the file the ending of its content, or export it as KML")
	}
	if err := k.container(); err != nil {
		return err
	}
	return k.m.end()
}

// container reads the children of kml, a Document or a Folder.
func (k *kmlReader) container() error {
	return k.m.children(func(start xml.StartElement) error {
		switch start.Name.Local {
		case "Document", "Folder":
			return k.container()
		case "name":
			return k.layer(start)
		case "Placemark":
			return k.placemark(start)
		case "NetworkLink":
			return k.networkLink(start)
		case "GroundOverlay", "ScreenOverlay", "PhotoOverlay":
			k.pictures++
		}
		return k.m.skip()
	})
}

// mostLayers is how many names of folders are kept.
const mostLayers = 100

// layer keeps the name of a folder or document.
func (k *kmlReader) layer(start xml.StartElement) error {
	n, err := k.m.node(start)
	if err == nil && len(k.info.Layers) < mostLayers && strings.TrimSpace(n.text) != "" {
		k.info.Layers = append(k.info.Layers, strings.TrimSpace(n.text))
	}
	return err
}

func (k *kmlReader) networkLink(start xml.StartElement) error {
	n, err := k.m.node(start)
	if err != nil {
		return err
	}
	href := ""
	for _, name := range []string{"Link", "Url"} { // Url: the name in KML 2.0
		if link := n.child(name); link != nil && href == "" {
			href = link.textOf("href")
		}
	}
	k.links = append(k.links, href)
	return nil
}

func (k *kmlReader) placemark(start xml.StartElement) error {
	k.placemarks++
	n, err := k.m.node(start)
	if err != nil {
		return err
	}
	place := labeled("placemark", k.placemarks, n.textOf("name"))
	shapes, others, err := k.shapes(n, place)
	if err != nil {
		return err
	}
	g := gather(shapes)
	if g == nil {
		if others == 0 {
			k.empty++
		}
		return nil
	}
	return k.add(geojson.Feature{Geometry: g, Properties: kmlProperties(n), ID: attribute(n.attrs, "id"), Place: place})
}

// kmlProperties takes what a placemark says of itself, all of it text.
func kmlProperties(n *node) map[string]any {
	p := map[string]any{}
	for _, name := range []string{"name", "description", "styleUrl"} {
		if s := n.textOf(name); s != "" {
			p[name] = s
		}
	}
	data := n.child("ExtendedData")
	if data == nil {
		return p
	}
	set := func(name, value string) {
		if _, taken := p[name]; taken {
			name = "ExtendedData." + name
		}
		p[name] = value
	}
	for _, d := range data.children {
		switch d.name {
		case "Data":
			set(attribute(d.attrs, "name"), d.textOf("value"))
		case "SchemaData":
			for _, s := range d.children {
				if s.name == "SimpleData" {
					set(attribute(s.attrs, "name"), s.text)
				}
			}
		}
	}
	return p
}

// finish notes what was left out, and rejects a file that has only links.
func (k *kmlReader) finish() error {
	if n := len(k.links); n > 0 && len(k.features) == 0 {
		return refuse(RuleLink, "file",
			fmt.Sprintf("no shape in it, only %d network link(s) to files elsewhere, the first to %s; links are never followed", n, quote(k.links[0])),
			"open the file where it can load its links and export the shapes themselves")
	}
	k.noteLeftOut(len(k.links), "network link", "links are never followed")
	k.noteLeftOut(k.pictures, "picture overlay", "only shapes are read")
	k.noteLeftOut(k.tracks, "track", "only tracks of GPX files are read")
	k.noteLeftOut(k.models, "model", "only shapes are read")
	k.noteLeftOut(k.empty, "placemark", "without a shape")
	k.noteLeftOut(k.otherShapes, "empty shape", "without coordinates")
	return nil
}

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
