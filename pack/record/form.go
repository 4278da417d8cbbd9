package record

// Form says how a file is to be read where it does not say it itself.
type Form struct {
	EPSG     int      `toml:"-"`        // number of its coordinate system; 0 = as the file says
	Layers   []string `toml:"-"`        // the layers that are read, "*" for all; nil = the only one there is
	Encoding string   `toml:"encoding"` // of its text, such as "windows-1252"; "" = as the file says
}

// Stated says whether anything is.
func (f Form) Stated() bool { return f.EPSG != 0 || len(f.Layers) > 0 || f.Encoding != "" }
