package job

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/tomlline"
)

// explain turns the library's errors into a line and a remedy.
func explain(err error, data []byte) (detail, remedy string) {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, _ := strict.Errors[0].Position()
		return fmt.Sprintf("line %d: the key %q is not known", row, joinKey(strict.Errors[0].Key())),
			"check its spelling and the table it stands in"
	}
	if bad, ok := errors.AsType[*toml.DecodeError](err); ok {
		row, column := bad.Position()
		what := strings.TrimPrefix(bad.Error(), "toml: ")
		if key := joinKey(bad.Key()); key != "" {
			return fmt.Sprintf("line %d: %s: %s", row, key, what), "fix the line"
		}
		return fmt.Sprintf("line %d, column %d: %s", row, column, what), "fix the line"
	}
	if key, found := tomlline.Read(data).FirstFailing(func(b []byte) error { return toml.Unmarshal(b, new(jobTOML)) }); found {
		// a value without its quotation marks has no place
		return fmt.Sprintf("line %d: %s: %v", key.Line, inList.ReplaceAllString(key.Path, ""), err), "fix the line"
	}
	return err.Error(), "fix the file"
}

// inList is the place of a table in its list.
var inList = regexp.MustCompile(`\[\d+\]`)

// tableSlip says which table of job.toml an error is about.
type tableSlip struct {
	table string
	err   error
}

func (e *tableSlip) Error() string { return e.err.Error() }
func (e *tableSlip) Unwrap() error { return e.err }

// inTable keeps the table of an error; i counts from 0, below that for a table
// that is there once.
func inTable(name string, i int, err error) error {
	if err == nil {
		return nil
	}
	if i >= 0 {
		name = fmt.Sprintf("%s[%d]", name, i)
	}
	return &tableSlip{name, err}
}

// withLine is an error of a job's own values with the line of the key it names.
func withLine(err error, file string, data []byte) error {
	if err == nil {
		return nil
	}
	table := ""
	if in := (*tableSlip)(nil); errors.As(err, &in) {
		table = in.table
	}
	out := fault.Fault{Kind: Invalid, Place: file, Detail: err.Error(), Remedy: "fix the file"}
	if bad := (*fault.Fault)(nil); errors.As(err, &bad) && bad.Kind == Invalid {
		out = *bad
	}
	_, what, isOverlay := strings.Cut(out.Detail, ": ") // the name of a file may be a key
	if !isOverlay || !strings.HasPrefix(out.Detail, "overlay ") {
		what = out.Detail
	}
	if line := tomlline.Read(data).LineNamedIn(table, what); line > 0 {
		out.Detail = fmt.Sprintf("line %d: %s", line, out.Detail)
	}
	return &out
}

func joinKey(key toml.Key) string {
	text := ""
	for i, part := range key {
		if i > 0 {
			text += "."
		}
		text += part
	}
	return text
}
