package desk

// slice is a part of the desk: it adds its own routes and kinds of tasks.
type slice interface{ routes(d *desk) }

// routes adds all slices, one a line.
func (d *desk) routes() {
	for _, s := range []slice{
		&state{d},
		&jobs{d: d},
		&taskRoutes{d},
		newPicture(d),
		newNewSource(d),
		newDraft(d),
	} {
		s.routes(d)
	}
}
