package collect

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// runsFile keeps the names of runs: they stand on paper and are said aloud, so a run has for
// good the one under which it first came home, whatever comes later or is struck.
const runsFile = Folder + "/runs.json"

// Names are names of runs by utility and by ID.
type Names map[string]map[string]string

// RunNames gives the names that the runs of a job have; none where no book was collected.
func RunNames(dir string) (Names, error) {
	n, err := readNamesOf(dir)
	if err != nil || n == nil {
		return nil, err
	}
	return n.Names, nil
}

// runNames are the names of runs by utility and by ID, and the last number that each utility
// has given away.
type runNames struct {
	Last  map[string]int `json:"last"`
	Names Names          `json:"names"`

	text []byte // of the file; nil = there is none
}

// readNames reads the names that the job keeps. A job without such a file has those that its
// marks had.
func (c *collecting) readNames(before []fieldbook.Mark) (*runNames, error) {
	n, err := readNamesOf(c.dir)
	if err != nil || n != nil {
		return n, err
	}
	n = &runNames{Last: map[string]int{}, Names: Names{}}
	for _, o := range fieldbook.Overlays(before) {
		n.give(o.Kind.Code, o.Features)
	}
	return n, nil
}

// readNamesOf reads the file of names; nil where there is none.
func readNamesOf(dir string) (*runNames, error) {
	n := &runNames{Last: map[string]int{}, Names: Names{}}
	file := filepath.Join(dir, filepath.FromSlash(runsFile))
	text, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil {
		err = json.Unmarshal(text, n)
	}
	if err != nil || n.Last == nil || n.Names == nil {
		return nil, &fault.Fault{Kind: Broken, Place: file, Detail: "the names of runs that the job keeps cannot be read",
			Remedy: "put back the file of a copy of the job; without it, move it away: the runs are named anew", Err: err}
	}
	n.text = text
	return n, nil
}

// writeNames adds the file of names to what is written, where it is another one.
func (c *collecting) writeNames(out *job.Rewriting, n *runNames) error {
	text, err := json.MarshalIndent(n, "", " ")
	if err != nil || len(n.Names) == 0 || bytes.Equal(text, n.text) {
		return err
	}
	out.Files[runsFile] = text
	c.changes = true
	return nil
}

// give gives the runs of an overlay names that people can read, those without one in the order
// in which they were begun; their IDs stay as "run". One reading alone is a run that is no line.
func (n *runNames) give(utility string, features []geojson.Feature) {
	runs := map[string][]map[string]any{}
	for _, f := range features {
		if id := record.Text(f.Properties, "line"); id != "" {
			runs[id] = append(runs[id], f.Properties)
		}
	}
	begun := func(id string) string {
		return record.Text(slices.MinFunc(runs[id], func(a, b map[string]any) int {
			return cmp.Compare(record.Text(a, "date"), record.Text(b, "date"))
		}), "date")
	}
	ids := slices.SortedFunc(maps.Keys(runs), func(a, b string) int { return cmp.Or(cmp.Compare(begun(a), begun(b)), cmp.Compare(a, b)) })
	for _, id := range ids {
		first, name := runs[id][0], ""
		if alone := len(runs[id]) == 1 && record.Text(first, "kind") == fieldbook.Reading; !alone {
			day, _, _ := strings.Cut(begun(id), "T")
			name = n.of(utility, id, day, record.Text(first, "label"))
		}
		for _, p := range runs[id] {
			if p["run"] = id; name == "" {
				delete(p, "line")
			} else {
				p["line"] = name
			}
		}
	}
}

// of is the name of a run: the one that it has, else the next.
func (n *runNames) of(utility, id, day, label string) string {
	if name := n.Names[utility][id]; name != "" {
		return name
	}
	n.Last[utility]++
	name := words.Say("collect.run", "n", n.Last[utility], "date", day)
	if label != "" {
		name = words.Say("collect.run_labeled", "label", label, "n", n.Last[utility], "date", day)
	}
	if n.Names[utility] == nil {
		n.Names[utility] = map[string]string{}
	}
	n.Names[utility][id] = name
	return name
}
