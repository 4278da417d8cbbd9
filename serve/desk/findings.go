package desk

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"path/filepath"
	"sync"

	"groundsheet/pack"
	"groundsheet/pack/brief"
	"groundsheet/pack/check"
	"groundsheet/tiles/fault"
)

// paper shows what is proved of a job's packs, and the packs as paper. It writes nothing.
type paper struct {
	d *desk

	mu       sync.Mutex
	verdicts map[string]stamped[[]verdict] // by the job's id
	brief    stamped[briefFiles]           // the latest one
}

// stamped is a value that is good as long as the files are the same.
type stamped[T any] struct {
	stamp string
	value T
}

// verdict is what check says of a pack, held against the job as it is now.
type verdict struct {
	check.Report
	Against string   `json:"against"` // why it was not held against the job; "" = it was
	Problem *problem `json:"problem"` // why it cannot be checked
}

type briefFiles struct{ page, pdf []byte }

func (s *paper) routes(d *desk) {
	s.verdicts = map[string]stamped[[]verdict]{}
	d.get("/api/jobs/{job}/findings", s.findings)
	d.raw("/api/jobs/{job}/brief", s.show)
}

func (s *paper) findings(r *http.Request) (any, error) {
	id := r.PathValue("job")
	seen, err := s.d.look(id)
	if err != nil {
		return nil, err
	}
	stamp := seen.Etag + seen.packs
	s.mu.Lock()
	was := s.verdicts[id]
	s.mu.Unlock()
	if was.stamp != stamp {
		was = stamped[[]verdict]{stamp, []verdict{}}
		for _, p := range seen.Packs {
			v, err := s.verdict(r.Context(), seen.Dir, p.File)
			if err != nil {
				return nil, err
			}
			was.value = append(was.value, v)
		}
		s.mu.Lock()
		s.verdicts[id] = was
		s.mu.Unlock()
	}
	return map[string]any{"packs": was.value}, nil
}

// verdict checks one pack; an error means that nobody waits for it any more.
func (s *paper) verdict(ctx context.Context, dir, file string) (v verdict, err error) {
	var o check.Options
	w, err := s.d.office.Open(ctx, dir)
	if err == nil {
		o.Against, err = w.Against(ctx, file)
		err = errors.Join(err, w.Close())
	}
	if err != nil {
		v.Against = err.Error()
	}
	v.Report, err = check.Run(ctx, file, o)
	v.File, v.Problem = file, problemOf(err)
	if v.Findings == nil {
		v.Findings = []check.Finding{}
	}
	return v, ctx.Err()
}

// show answers with the brief of a pack: ?pack=NAME of its file, else the first; ?as=pdf.
func (s *paper) show(w http.ResponseWriter, r *http.Request) error {
	seen, err := s.d.look(r.PathValue("job"))
	if err != nil {
		return err
	}
	p, err := packNamed(seen.Packs, r.URL.Query().Get("pack"))
	if err != nil {
		return err
	}
	files, err := s.write(r.Context(), p)
	if err != nil {
		return err
	}
	media, text := "text/html; charset=utf-8", files.page
	if r.URL.Query().Get("as") == "pdf" {
		media, text = "application/pdf", files.pdf
	}
	w.Header().Set("Content-Type", media)
	_, _ = w.Write(text) // a page that has gone is nobody's to tell
	return nil
}

// packNamed finds a pack of a job by the name of its file; "" is the first.
func packNamed(packs []packFile, name string) (packFile, error) {
	for _, p := range packs {
		if name == "" || filepath.Base(p.File) == name {
			return p, nil
		}
	}
	return packFile{}, &fault.Fault{Kind: notFound, Detail: "the job is not packed yet", Remedy: "pack it first"}
}

// write makes the brief, unless it was the latest one made.
func (s *paper) write(ctx context.Context, of packFile) (briefFiles, error) {
	s.mu.Lock()
	was := s.brief
	s.mu.Unlock()
	if was.stamp == of.File+of.Stamp {
		return was.value, nil
	}
	p, err := pack.Open(ctx, of.File)
	if err != nil {
		return briefFiles{}, err
	}
	var page, pdf bytes.Buffer
	_, err = brief.Write(ctx, p, &pdf, &page, brief.Options{Now: s.d.now})
	if err := errors.Join(err, p.Close()); err != nil {
		return briefFiles{}, err
	}
	made := briefFiles{page.Bytes(), pdf.Bytes()}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.brief = stamped[briefFiles]{of.File + of.Stamp, made}
	return made, nil
}
