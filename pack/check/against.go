package check

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"groundsheet/pack"
)

// itself holds overlays and area against the hashes they were written with.
func (c *checker) itself(ctx context.Context) error {
	if !c.pack.Info.Own {
		return nil
	}
	seals := maps.Clone(c.pack.Info.About.Seals)
	delete(seals, pack.ContentSeal) // of what it was written from, not of a part
	same := func(part string, body []byte) {
		if seals[part] != pack.Seal(body) {
			c.add("changed", Fault, nil, part+" is not what was packed")
		}
		delete(seals, part)
	}
	same("area", c.pack.Info.Area)
	for _, s := range c.pack.Info.Overlays {
		body, err := c.pack.Overlay(ctx, s.ID)
		if err != nil {
			return err
		}
		same("overlay "+s.ID, body)
	}
	if c.pack.Info.Known {
		for _, part := range pack.KnownParts() {
			body, err := c.pack.KnownPart(ctx, part)
			var damaged *pack.NotPack
			if errors.As(err, &damaged) {
				continue // named as missing, or damaged when it is read
			}
			if err != nil {
				return err
			}
			same("known "+part, body)
		}
	}
	for _, part := range slices.Sorted(maps.Keys(seals)) {
		c.add("missing", Fault, nil, part+" was packed and is not in the file")
	}
	return nil
}

// against holds what the pack says of the job against the job.
func (c *checker) against(context.Context) error {
	if c.opts.Against == nil || !c.pack.Info.Own {
		return nil
	}
	job, was := c.opts.Against.About, c.pack.Info.About
	differ := func(what string, now, then any) {
		if !reflect.DeepEqual(now, then) {
			c.add("job changed", Fault, nil, fmt.Sprintf("%s is not what it was when the pack was written: run pack again", what))
		}
	}
	differ("the job's name or number", [2]string{job.Name, job.Number}, [2]string{was.Name, was.Number})
	differ("the source of the base map", job.Source.Name, was.Source.Name)
	differ("the ticket", job.Ticket, was.Ticket)
	differ("the tolerance zone", ruleOf(job.Tolerance), ruleOf(was.Tolerance))
	differ("a rule of clearance", job.Rules, was.Rules)
	differ("how the job looks at records", job.Records, was.Records)
	differ("the margin", job.MarginM, was.MarginM)
	differ("the unit or the one-call number", [2]string{job.Units, job.OneCall}, [2]string{was.Units, was.OneCall})
	differ("fit_in", job.FitInBytes, was.FitInBytes)
	differ("jpeg_quality", job.JPEGQuality, was.JPEGQuality)
	differ("whether it is invented", job.Invented, was.Invented)
	differ("the list of expected utilities", strings.Join(job.Expected, ","), strings.Join(was.Expected, ","))
	differ("the dig area", c.opts.Against.Seals["area"], was.Seals["area"])
	differ("the overlays", overlaysOf(c.opts.Against.Seals), overlaysOf(was.Seals))
	return nil
}

// ruleOf leaves the words of the length out: earlier packs do not keep them.
func ruleOf(t *pack.Tolerance) any {
	if t == nil {
		return nil
	}
	return pack.Tolerance{EachSide: t.EachSide, Rule: t.Rule, HideUncertainty: t.HideUncertainty}
}

// overlaysOf leaves the area and the content out.
func overlaysOf(seals map[string]string) map[string]string {
	rest := map[string]string{}
	for part, seal := range seals {
		if strings.HasPrefix(part, "overlay ") {
			rest[part] = seal
		}
	}
	return rest
}
