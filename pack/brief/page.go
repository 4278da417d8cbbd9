package brief

import (
	_ "embed" // the page's template
	"html/template"
	"io"
)

//go:embed page.html
var pageText string

// mapImage is a map page in the browser.
type mapImage struct {
	Title, Alt string
	Address    template.URL // made here, of our own drawing alone
	Wide       bool         // for paper on its side
}

// content is what the page shows.
type content struct {
	Title, Name, Identity string
	Paper                 string // the sheets are true on this one
	First, Last           []section
	Maps                  []mapImage
}

func writePage(w io.Writer, c content) error {
	t, err := template.New("brief").Parse(pageText)
	if err != nil {
		return err
	}
	return t.Execute(w, c)
}
