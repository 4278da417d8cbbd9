package desk

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/serve/health"
	"groundsheet/tiles/fault"
)

// copies puts packs on memory sticks and into other folders, as tasks.
type copies struct{ d *desk }

func (s *copies) routes(d *desk) {
	d.get("/api/drives", func(*http.Request) (any, error) { return map[string]any{"drives": drives()}, nil })
	d.post("/api/jobs/{job}/copy", s.start)
}

// start copies all packs of a job into a folder.
func (s *copies) start(r *http.Request) (any, error) {
	var in struct {
		To string `json:"to"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	id := r.PathValue("job")
	seen, err := s.d.look(id)
	if err != nil {
		return nil, err
	}
	packs := seen.Packs
	info, statErr := os.Stat(in.To)
	switch {
	case len(packs) == 0:
		return nil, &fault.Fault{Kind: notFound, Detail: "the job is not packed yet", Remedy: "pack it first"}
	case !filepath.IsAbs(in.To):
		return nil, &fault.Fault{Place: in.To, Detail: "is no whole path of a folder", Remedy: "choose a drive of the list, or type the path from its beginning"}
	case statErr != nil || !info.IsDir():
		return nil, &fault.Fault{Place: in.To, Detail: "there is no such folder", Remedy: "plug the drive in, or name another folder"}
	}
	return map[string]any{"task": s.d.tasks.start("copy", id, func(ctx context.Context, report func(Progress)) error {
		return copyAll(ctx, packs, in.To, report)
	})}, nil
}

func copyAll(ctx context.Context, packs []packFile, to string, report func(Progress)) error {
	var total, before int64
	for _, p := range packs {
		total += 2 * p.Bytes
	}
	copied := []pack.Copied{}
	for _, p := range packs {
		c, err := pack.Copy(ctx, p.File, to, func(done, all int64) {
			stage := "copying"
			if done > all/2 {
				stage = "reading back"
			}
			report(Progress{Stage: stage, Done: before + done, Total: max(total, before+all)})
		})
		if err != nil {
			return err
		}
		before += 2 * c.Bytes
		copied = append(copied, c)
	}
	report(Progress{Stage: "copied", Done: total, Total: total, Result: map[string]any{"copies": copied}})
	return nil
}

// drive is a disk that people plug in.
type drive struct {
	Folder string `json:"folder"`
	Free   int64  `json:"free"` // bytes
	Size   int64  `json:"size"`
}

// drives lists the disks that are mounted where systems mount what people plug in: on
// Linux below /media and /run/media, on macOS in /Volumes, on Windows letters from D.
func drives() []drive {
	all := []drive{}
	for _, folder := range mounted() {
		free, size, known := health.Free(folder)
		if !known && runtime.GOOS != "windows" {
			continue
		}
		all = append(all, drive{folder, free, size})
	}
	return all
}

func mounted() (folders []string) {
	switch runtime.GOOS {
	case "linux":
		text, err := os.ReadFile("/proc/self/mounts")
		if err != nil {
			return nil
		}
		return removable(string(text))
	case "darwin":
		entries, _ := os.ReadDir("/Volumes")
		for _, e := range entries {
			if e.IsDir() {
				folders = append(folders, filepath.Join("/Volumes", e.Name()))
			}
		}
	case "windows":
		for letter := 'D'; letter <= 'Z'; letter++ {
			if _, err := os.Stat(string(letter) + `:\`); err == nil {
				folders = append(folders, string(letter)+`:\`)
			}
		}
	}
	return folders
}

// removable finds in a table of mounts (man 5 proc: the second field, with \040 for a
// space) those that people plug in.
func removable(table string) (folders []string) {
	plain := strings.NewReplacer(`\040`, " ", `\011`, "\t", `\012`, "\n", `\134`, `\`)
	for line := range strings.Lines(table) {
		fields := strings.Fields(line)
		if len(fields) < 3 {
			continue
		}
		folder := plain.Replace(fields[1])
		if (strings.HasPrefix(folder, "/media/") || strings.HasPrefix(folder, "/run/media/")) && !slices.Contains(folders, folder) {
			folders = append(folders, folder)
		}
	}
	return folders
}
