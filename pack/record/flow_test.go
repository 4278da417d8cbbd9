package record

import (
	"strings"
	"testing"
)

func TestFlowsThatAreNotUnderstood(t *testing.T) {
	at := func(flow any) map[string]any { return map[string]any{"flow": flow} }
	o := recordOf(t, "s", "sewer", lineOf(at("with line"), at0, at1), lineOf(at("Against the line"), at0, at1), lineOf(at(nil), at0, at1),
		lineOf(at("downhill"), at0, at1), lineOf(at("downhill"), at0, at1))
	if len(o.Findings) != 1 || o.Findings[0].Kind != "flow" || !strings.Contains(o.Findings[0].Detail, "2 features") || !strings.Contains(o.Findings[0].Detail, "downhill") {
		t.Errorf("%+v", o.Findings)
	}
}
