package desk

// slice is a part of the desk: it adds its own routes and kinds of tasks.
type slice interface{ routes(d *desk) }

// routes adds all slices, one a line.
func (d *desk) routes() {
	work := &works{d: d}
	recorded := &records{d: d}
	for _, s := range []slice{
		&state{d},
		&jobs{d},
		&places{d},
		d.assessor,
		&ready{work},
		&taskRoutes{d},
		newAreas(d),
		work,
		&paper{d: d},
		&copies{d},
		&serving{d},
		&keeping{d},
		d.nightly,
		newPicture(d),
		newNewSource(d),
		newDraft(d),
		recorded,
		&home{d, &recorded.drops},
	} {
		s.routes(d)
	}
}
