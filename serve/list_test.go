package serve

import (
	"slices"
	"testing"
)

// TestListIsSorted: jobs by name, of one name the newest packed first.
func TestListIsSorted(t *testing.T) {
	var paths []string
	for _, name := range []string{"valve 7", "Creek", "Valve 7", "alder"} { // packed in this order
		paths = append(paths, makePack(t, name))
	}
	h := start(t, paths...)
	jobs := map[any]bool{}
	var names []string
	for _, p := range documentAt(t, h.URL+"/packs.json")["packs"].([]any) {
		names = append(names, p.(map[string]any)["name"].(string))
		jobs[p.(map[string]any)["job"]] = true
	}
	if len(jobs) != 4 {
		t.Errorf("packs of other names are one job: %v", jobs)
	}
	if !slices.Equal(names, []string{"alder", "Creek", "Valve 7", "valve 7"}) {
		t.Errorf("%v", names)
	}
}
