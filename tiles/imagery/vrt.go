package imagery

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

const (
	mostVRT     = 64 << 20 // bytes
	mostSources = 20_000   // files that a VRT or a folder may name
)

// vrtElements are what a VRT may hold: a mosaic of files, nothing that computes.
var vrtElements = strings.Fields(`VRTDataset SRS GeoTransform VRTRasterBand UnitType Offset Scale ColorInterp NoDataValue
	HideNoDataValue ColorTable Entry SimpleSource ComplexSource AveragedSource SourceFilename SourceBand SourceProperties
	SrcRect DstRect NODATA ScaleOffset ScaleRatio UseMaskBand ColorTableComponent MaskBand OverviewList Overview
	BlockXSize BlockYSize`)

// vrtSkipped are left out with all that is in them: nothing is lost by it, and
// metadata may name files.
var vrtSkipped = []string{"Metadata", "Histograms", "CategoryNames", "Description", "GDALRasterAttributeTable"}

// vrtAttributes are what may stand in its elements. A subClass would make a band
// compute, or read any file as raw bytes.
var vrtAttributes = strings.Fields(`rasterXSize rasterYSize dataAxisToSRSAxisMapping coordinateEpoch dataType band key domain
	relativeToVRT shared shape xOff yOff xSize ySize RasterXSize RasterYSize DataType BlockXSize BlockYSize c1 c2 c3 c4
	resampling name format`)

// readVRT reads a mosaic and gives it written anew: only elements that are known
// to be harmless, every file by its whole path. All of them lie in the folder of
// the VRT or below it.
func readVRT(path string) (text []byte, files []string, err error) {
	refuse := func(why string) ([]byte, []string, error) {
		return nil, nil, unusable(path, why, "make a mosaic of plain files: gdalbuildvrt, with the pictures in its own folder")
	}
	data, err := readWhole(path, mostVRT)
	if err != nil {
		return refuse(err.Error())
	}
	folder, err := filepath.EvalSymlinks(filepath.Dir(path))
	if err != nil {
		return refuse(err.Error())
	}
	var out bytes.Buffer
	var open []xml.StartElement
	var content strings.Builder
	for d := xml.NewDecoder(bytes.NewReader(data)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return refuse("it cannot be read: " + err.Error())
		}
		switch t := token.(type) {
		case xml.Directive:
			return refuse("it declares a document type, which no mosaic needs")
		case xml.StartElement:
			if slices.Contains(vrtSkipped, t.Name.Local) {
				if err := d.Skip(); err != nil {
					return refuse("it cannot be read: " + err.Error())
				}
				continue
			}
			if wrong := checkElement(t); wrong != "" {
				return refuse(wrong)
			}
			if len(open) > 20 {
				return refuse("its parts are nested too deeply")
			}
			writeText(&out, open, &content)
			writeStart(&out, t)
			open = append(open, t.Copy())
		case xml.CharData:
			content.Write(t)
		case xml.EndElement:
			start := open[len(open)-1]
			if start.Name.Local == "SourceFilename" {
				if files, err = sourceFile(files, folder, start, &content); err != nil {
					return refuse(err.Error())
				}
			}
			writeText(&out, open, &content)
			fmt.Fprintf(&out, "</%s>", t.Name.Local)
			open = open[:len(open)-1]
		}
	}
	slices.Sort(files)
	if files = slices.Compact(files); len(files) == 0 || len(files) > mostSources {
		return refuse(fmt.Sprintf("it names %d files: 1 to %d can be", len(files), mostSources))
	}
	return out.Bytes(), files, nil
}

// sourceFile adds the file that an element names to files, and makes its whole path the content.
func sourceFile(files []string, folder string, e xml.StartElement, content *strings.Builder) ([]string, error) {
	file, err := within(folder, strings.TrimSpace(content.String()), attribute(e, "relativeToVRT") == "1")
	if err != nil {
		return nil, err
	}
	content.Reset()
	content.WriteString(file)
	return append(files, file), nil
}

func checkElement(e xml.StartElement) string {
	if name := e.Name.Local; e.Name.Space != "" || !slices.Contains(vrtElements, name) {
		return fmt.Sprintf("it holds %.60q, which is not read: it may compute, or lead elsewhere", name)
	}
	for _, a := range e.Attr {
		if !slices.Contains(vrtAttributes, a.Name.Local) || a.Name.Space != "" {
			return fmt.Sprintf("its %s has %.60q, which is not read: it may compute, or lead elsewhere", e.Name.Local, a.Name.Local)
		}
	}
	return ""
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}

// writeStart writes an element; a file is named by its whole path from now on.
func writeStart(out *bytes.Buffer, e xml.StartElement) {
	fmt.Fprintf(out, "<%s", e.Name.Local)
	for _, a := range e.Attr {
		value := a.Value
		if a.Name.Local == "relativeToVRT" {
			value = "0"
		}
		fmt.Fprintf(out, ` %s="`, a.Name.Local)
		_ = xml.EscapeText(out, []byte(value)) // to memory
		out.WriteByte('"')
	}
	out.WriteByte('>')
}

// writeText writes what stands in the innermost element so far.
func writeText(out *bytes.Buffer, open []xml.StartElement, content *strings.Builder) {
	if len(open) > 0 && strings.TrimSpace(content.String()) != "" {
		_ = xml.EscapeText(out, []byte(content.String())) // to memory
	}
	content.Reset()
}

// within is the whole path of a file that a VRT names. It has to lie in the
// folder, whatever links are in it, and must be no VRT itself.
func within(folder, name string, relative bool) (string, error) {
	elsewhere := fmt.Errorf("it names %.200q, which is no file in its own folder", name)
	path := filepath.FromSlash(name)
	switch {
	case name == "" || !relative && !filepath.IsAbs(path):
		return "", elsewhere
	case relative && !filepath.IsAbs(path):
		path = filepath.Join(folder, path)
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil || !below(folder, real) {
		return "", elsewhere
	}
	return real, checkFile(real)
}

// below reports whether a path lies in a folder.
func below(folder, path string) bool {
	rest, err := filepath.Rel(folder, path)
	return err == nil && filepath.IsLocal(rest)
}

// checkFile looks whether something is a file that GDAL may be given: a regular
// one, with a name that means nothing else to it, and no VRT by its content
// (GDAL knows one by this word, wherever it stands at the beginning).
func checkFile(path string) error {
	info, err := os.Stat(path) // before opening: a pipe would wait for ever
	switch {
	case err != nil:
		return errors.New(withoutPath(err))
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is not a file", path)
	case strings.HasPrefix(filepath.ToSlash(path), "/vsi"):
		return fmt.Errorf("%s has a name that GDAL takes for something else: move it", path)
	}
	is, err := isVRT(path)
	if err == nil && is {
		err = fmt.Errorf("%s is a VRT: a mosaic of mosaics is not read", path)
	}
	return err
}

// isVRT reports whether GDAL would take a file for a VRT.
func isVRT(path string) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, errors.New(withoutPath(err))
	}
	defer f.Close()
	start := make([]byte, 64<<10)
	n, err := io.ReadFull(f, start)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return false, errors.New(withoutPath(err))
	}
	return bytes.Contains(start[:n], []byte("<VRTDataset")), nil
}

// readWhole reads a regular file of no more than so many bytes.
func readWhole(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, errors.New(withoutPath(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(data)) > most {
		err = fmt.Errorf("it is longer than %d MB", most>>20)
	}
	return data, err
}

// withoutPath is the reason without the path, which the message has already.
func withoutPath(err error) string {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return err.Error()
}
