package check

import (
	"context"
	"maps"
	"reflect"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/tiles/words"
)

// seals compares every part of the file with its seal.
func (c *checker) seals(ctx context.Context) error {
	if !c.pack.Info.Own {
		return nil
	}
	if c.pack.Info.Seals.Seal == "" {
		c.add("unsealed", Fault, nil, words.Say("check.unsealed"))
		return nil
	}
	changed, missing, foreign, err := c.pack.Prove(ctx)
	if err != nil {
		return c.damaged(err)
	}
	for _, part := range changed {
		c.add("changed", Fault, nil, words.Say("check.part_changed", "part", part))
	}
	for _, part := range missing {
		c.add("missing", Fault, nil, words.Say("check.part_missing", "part", part))
	}
	for _, part := range foreign {
		c.add("changed", Fault, nil, words.Say("check.part_foreign", "part", part))
	}
	if err := c.signature(ctx); err != nil {
		return err
	}
	return c.summaries(ctx)
}

// signature verifies that the key of the office signed the pack.
func (c *checker) signature(ctx context.Context) error {
	if c.opts.Key == nil {
		return nil
	}
	s, there, err := c.pack.Signature(ctx)
	switch {
	case err != nil:
		return c.damaged(err)
	case !there:
		c.add("signature", Fault, nil, words.Say("check.unsigned"))
	case !s.Signs(c.opts.Key, c.pack.Info.Seals.Seal):
		c.add("signature", Fault, nil, words.Say("check.signed_by_other"))
	}
	return nil
}

// summaries computes the summary of each overlay again from its features.
func (c *checker) summaries(ctx context.Context) error {
	for _, s := range c.pack.Info.Overlays {
		o, err := c.pack.ReadOverlay(ctx, s)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			if err := c.damaged(err); err != nil {
				return err
			}
			continue
		}
		if !s.Tells(o, c.pack.Info.Bounds) {
			c.add("changed", Fault, nil, words.Say("check.summary_wrong", "overlay", quoted(s.Title)))
		}
	}
	return nil
}

// against compares what the pack states of the job with the job.
func (c *checker) against(context.Context) error {
	if c.opts.Against == nil || !c.pack.Info.Own {
		return nil
	}
	job, was := c.opts.Against.About, c.pack.Info.About
	differ := func(what string, now, then any) {
		if !reflect.DeepEqual(now, then) {
			c.add("job changed", Fault, nil, words.Say("check.job_changed", "what", what))
		}
	}
	differ("the job's name or number", [2]string{job.Name, job.Number}, [2]string{was.Name, was.Number})
	differ("the source of the base map, or what it states", job.Source, was.Source)
	differ("the ticket", job.Ticket, was.Ticket)
	differ("the tolerance zone", ruleOf(job.Tolerance), ruleOf(was.Tolerance))
	differ("a clearance rule", job.Rules, was.Rules)
	differ("how the job looks at records", job.Records, was.Records)
	differ("the margin", job.MarginM, was.MarginM)
	differ("the unit or the one-call number", [2]string{job.Units, job.OneCall}, [2]string{was.Units, was.OneCall})
	differ("fit_in", job.FitInBytes, was.FitInBytes)
	differ("jpeg_quality", job.JPEGQuality, was.JPEGQuality)
	differ("the zooms, or the size of a tile", [3]int{job.Zooms[0], job.Zooms[1], job.TileSize},
		[3]int{was.Zooms[0], was.Zooms[1], was.TileSize})
	differ("whether it is invented", job.Invented, was.Invented)
	differ("the list of expected utilities", strings.Join(job.Expected, ","), strings.Join(was.Expected, ","))
	differ("which utilities have no record in or near the dig area", strings.Join(job.ExpectedMissing, ","),
		strings.Join(was.ExpectedMissing, ","))
	c.parts(c.opts.Against.Seals, c.pack.Info.Seals.Parts)
	return nil
}

// parts compares the seals of the dig area and of each overlay with those of the job.
func (c *checker) parts(now, then map[string]string) {
	for _, part := range slices.Sorted(maps.Keys(now)) {
		if now[part] != then[part] {
			c.add("job changed", Fault, nil, words.Say("check.job_changed", "what", partWords(part)))
		}
	}
	for _, part := range slices.Sorted(maps.Keys(then)) {
		if _, still := now[part]; strings.HasPrefix(part, overlayPart) && !still {
			c.add("job changed", Fault, nil, words.Say("check.job_without", "part", part))
		}
	}
}

const overlayPart = "overlay "

func partWords(part string) string {
	if part == pack.AreaPart {
		return "the dig area"
	}
	return part
}

// ruleOf leaves out the words of the length, which earlier packs lack.
func ruleOf(t *pack.Tolerance) any {
	if t == nil {
		return nil
	}
	return pack.Tolerance{EachSide: t.EachSide, Rule: t.Rule, HideUncertainty: t.HideUncertainty}
}
