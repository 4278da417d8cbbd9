package update

import (
	"context"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/tiles"
)

// whatChanges compares two packs by the hashes that they state of their tiles and parts.
func whatChanges(ctx context.Context, old, new *pack.Pack) (w What, err error) {
	w.Parts = []string{}
	had, err := hashesOf(ctx, old)
	if err != nil {
		return w, err
	}
	has, err := hashesOf(ctx, new)
	if err != nil {
		return w, err
	}
	for id, hash := range has {
		was, there := had[id]
		switch {
		case !there:
			w.Added++
		case was != hash:
			w.Changed++
		}
	}
	for id := range had {
		if _, there := has[id]; !there {
			w.Gone++
		}
	}
	for part, seal := range new.Info.Seals.Parts {
		if old.Info.Seals.Parts[part] != seal && told(part) {
			w.Parts = append(w.Parts, part)
		}
	}
	for part := range old.Info.Seals.Parts {
		if _, there := new.Info.Seals.Parts[part]; !there && told(part) {
			w.Parts = append(w.Parts, part+" (gone)")
		}
	}
	slices.Sort(w.Parts)
	return w, nil
}

// told leaves out what changes with every pack, and what is counted as tiles.
func told(part string) bool {
	return strings.HasPrefix(part, "overlay") || part == "document area" || part == "document terms"
}

// hashesOf are the hashes of a pack's tiles; a hole is all zeros.
func hashesOf(ctx context.Context, p *pack.Pack) (map[tiles.ID][32]byte, error) {
	covers, err := p.Wanted(ctx)
	if err != nil {
		return nil, err
	}
	all := map[tiles.ID][32]byte{}
	for _, c := range covers {
		for h, err := range p.In(ctx, c, false) {
			if err != nil {
				return nil, err
			}
			all[h.ID] = h.Hash
		}
	}
	return all, nil
}
