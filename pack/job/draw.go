package job

// Drawing is an area as it was drawn on a map.
type Drawing struct {
	Shapes  []Shape
	Dropped []Dropped
}

// Draw makes the job's area that of a drawing, under the folder's lock. What is drawn
// goes where a person would write it: outlines into area.geojson, each route into a
// file of its own with an [[along]] table, circles into [[around]] tables. Files of which
// nothing was changed stay as they are; one that was handed over is never written over.
// unchanged is asked once nobody else can write any more. What cannot be used as an area
// is refused, and nothing changes.
func Draw(dir, doing string, d Drawing, unchanged func() error) error {
	return rewrite(dir, doing, func(text []byte) ([]Change, []file, []string, error) {
		if err := unchanged(); err != nil {
			return nil, nil, nil, err
		}
		j, err := Parse(text, dir)
		if err != nil {
			return nil, nil, nil, err
		}
		p, err := j.plan(d)
		if err == nil {
			err = p.prove(text, dir)
		}
		return p.changes, p.files, p.gone, err
	})
}

// NewDrawn makes a job folder from a draft without an area, a drawing, and whatever else
// is to be set in its job.toml.
func NewDrawn(dir string, draft Job, d Drawing, also ...Change) (Job, error) {
	if err := noJobIn(dir); err != nil {
		return Job{}, err
	}
	draft.Dir = dir
	plain, err := draft.text()
	if err != nil {
		return Job{}, err
	}
	p, err := draft.plan(d)
	if err != nil {
		return Job{}, err
	}
	p.changes = append(p.changes, also...)
	if err := p.prove([]byte(plain), dir); err != nil {
		return Job{}, err
	}
	text, err := Edit([]byte(plain), dir, p.changes...)
	if err != nil {
		return Job{}, err
	}
	if err := writeFiles(dir, append(p.files, file{FileName, text})); err != nil {
		return Job{}, err
	}
	return Read(dir)
}

// drawnPlan is what a drawing changes.
type drawnPlan struct {
	j       Job
	reuse   bool // a file that was drawn is written over
	changes []Change
	files   []file
	gone    []string // drawn files that others replace
}

// plan writes over a drawn file only if nothing else changes, so that it is one step.
func (j Job) plan(d Drawing) (drawnPlan, error) {
	p := drawnPlan{j: j, reuse: true}
	if err := p.make(d); err != nil || len(p.changes) == 0 && len(p.files) < 2 {
		return p, err
	}
	p = drawnPlan{j: j}
	return p, p.make(d)
}

// prove reads the area as it will be, before anything is written.
func (p drawnPlan) prove(text []byte, dir string) error {
	text, err := Edit(text, dir, p.changes...)
	if err != nil {
		return err
	}
	j, err := Parse(text, dir)
	if err != nil {
		return err
	}
	j.unsaved = map[string][]byte{}
	for _, f := range p.files {
		j.unsaved[f.name] = f.data
	}
	_, _, err = j.ReadArea()
	return err
}
