package office

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/store"
)

// jobKey names a job in the register for good: the computer and the folder. A
// store may be shared by several computers.
func jobKey(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	host, err := os.Hostname()
	if err != nil {
		return "", fmt.Errorf("this computer has no name: %w", err)
	}
	return host + ":" + abs, nil
}

// FolderOf is the folder in the key of a job of this computer, else the whole key.
func FolderOf(key string) string {
	if host, err := os.Hostname(); err == nil {
		return strings.TrimPrefix(key, host+":")
	}
	return key
}

// register puts a base that was packed into the register. A job that was closed is
// open again.
func (w *Workspace) register(ctx context.Context, i int, b base) error {
	j := w.Inputs.Job
	key, err := jobKey(j.Dir)
	if err != nil {
		return err
	}
	file, err := filepath.Abs(b.plan.Path)
	if err != nil {
		return err
	}
	return w.store.NoteJob(ctx, store.PackedJob{
		Key: key, Base: i, Name: j.Name, Number: j.Number, Shelf: b.shelf.Name(), Pack: file,
		Covers: b.plan.Covers, Packed: w.office.now().UTC(),
	})
}

// closeGoneBases closes the bases that a job no longer has, so that nobody keeps
// their tiles for it.
func (w *Workspace) closeGoneBases(ctx context.Context) error {
	key, err := jobKey(w.Inputs.Job.Dir)
	if err != nil {
		return err
	}
	jobs, err := w.store.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if j.Key != key || j.Base < len(w.Inputs.Job.Bases) || !j.Open() {
			continue
		}
		j.Closed = w.office.now().UTC()
		if err := w.store.NoteJob(ctx, j); err != nil {
			return err
		}
	}
	return nil
}

// OpenFolders are the folders of the open jobs of this computer, in the order of the
// register; none without a store.
func (o Office) OpenFolders(ctx context.Context) (folders []string, err error) {
	st, err := o.FindStore(ctx)
	if err != nil || st == nil {
		return nil, err
	}
	defer closeInto(st, &err)
	jobs, err := st.Jobs(ctx)
	for _, j := range jobs {
		folder := FolderOf(j.Key)
		if j.Open() && folder != j.Key && !slices.Contains(folders, folder) {
			folders = append(folders, folder)
		}
	}
	return folders, err
}

// Registered are the bases of the job in a folder that the register of the store has;
// none when it was never packed from it.
func (o Office) Registered(ctx context.Context, dir string) (bases []store.PackedJob, err error) {
	key, err := jobKey(dir)
	if err != nil {
		return nil, err
	}
	st, err := o.FindStore(ctx)
	if err != nil || st == nil {
		return nil, err
	}
	defer closeInto(st, &err)
	jobs, err := st.Jobs(ctx)
	return slices.DeleteFunc(jobs, func(j store.PackedJob) bool { return j.Key != key }), err
}

// CloseJobs marks the jobs of folders as closed, all of them or none, so that
// [Office.Prune] may take their tiles. The folders may be gone already.
func (o Office) CloseJobs(ctx context.Context, dirs ...string) error {
	return o.changeJobs(ctx, dirs, func(st store.Store, key string) (bool, error) {
		return st.CloseJob(ctx, key, o.now().UTC())
	})
}

// ReopenJobs marks closed jobs as open, all of them or none. What was pruned
// meanwhile is fetched when they are packed.
func (o Office) ReopenJobs(ctx context.Context, dirs ...string) error {
	return o.changeJobs(ctx, dirs, func(st store.Store, key string) (bool, error) {
		return st.CloseJob(ctx, key, time.Time{})
	})
}

// KeepJobs states that nothing of the jobs of folders may be pruned until a day, open
// or closed, all of them or none; the zero value takes that back.
func (o Office) KeepJobs(ctx context.Context, k store.Keeping, dirs ...string) error {
	k.Reason = strings.TrimSpace(k.Reason)
	if k.Until != "" {
		if err := o.CheckKeeping(k); err != nil {
			return err
		}
	}
	return o.changeJobs(ctx, dirs, func(st store.Store, key string) (bool, error) { return st.KeepJob(ctx, key, k) })
}

// CheckKeeping says what is wrong with a keeping to be stated, or nil.
func (o Office) CheckKeeping(k store.Keeping) error {
	_, err := time.Parse(time.DateOnly, k.Until)
	switch {
	case err != nil:
		return &fault.Fault{Detail: fmt.Sprintf("%q is no day", k.Until), Remedy: "write the last day as 2027-03-01"}
	case !k.On(o.now().Local()):
		return &fault.Fault{Detail: fmt.Sprintf("%s is over: nothing would be kept", k.Until), Remedy: "give a day to come"}
	case k.Reason == "":
		return &fault.Fault{Detail: "no reason is given to keep it", Remedy: "say why, such as a claim's number: whoever prunes is told it"}
	case utf8.RuneCountInString(k.Reason) > longestReason:
		return &fault.Fault{Detail: fmt.Sprintf("the reason is longer than %d characters", longestReason), Remedy: "shorten it"}
	}
	return nil
}

// longestReason keeps a reason to one line, in characters (the project's own choice, no
// source).
const longestReason = 200

// changeJobs changes the jobs of folders in the register; one that is not known
// changes nothing.
func (o Office) changeJobs(ctx context.Context, dirs []string, change func(store.Store, string) (bool, error)) (err error) {
	st, err := o.NeedStore(ctx)
	if err != nil {
		return err
	}
	defer closeInto(st, &err)
	jobs, err := st.Jobs(ctx)
	if err != nil {
		return err
	}
	var keys []string
	for _, dir := range dirs {
		key, err := jobKey(dir)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(jobs, func(j store.PackedJob) bool { return j.Key == key }) {
			return &fault.Fault{Detail: fmt.Sprintf("no job in %s was packed from this store", dir),
				Remedy: "known: " + foldersOf(jobs)}
		}
		keys = append(keys, key)
	}
	for _, key := range keys {
		if _, err := change(st, key); err != nil {
			return err
		}
	}
	return nil
}

func foldersOf(jobs []store.PackedJob) string {
	var all []string
	for _, j := range jobs {
		if name := FolderOf(j.Key); !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	if len(all) == 0 {
		return "none"
	}
	return strings.Join(all, ", ")
}

func closeInto(c io.Closer, err *error) {
	if closeErr := c.Close(); *err == nil {
		*err = closeErr
	}
}
