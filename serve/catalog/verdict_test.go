package catalog

import (
	"os"
	"strings"
	"testing"

	"groundsheet/pack/check"
)

// TestVerdictMany: few faults are told in full, all are counted.
func TestVerdictMany(t *testing.T) {
	r := check.Report{Verdict: check.NotFit, Faults: 250}
	for range 100 {
		r.Findings = append(r.Findings, check.Finding{Severity: check.Fault, Detail: "x"})
	}
	if v := newVerdict(r, nil, strings.Clone); v.Faults != 250 || len(v.First) != maxFaults || v.String() != "NOT FIT: do not rely on this pack. 250 faults: x" {
		t.Errorf("%+v", v)
	}
	if v := newVerdict(check.Report{}, os.ErrPermission, strings.Clone); !v.NotFit() || !strings.Contains(v.String(), "could not be checked") {
		t.Errorf("a pack that cannot be looked at: %v", v)
	}
}
