package record

import (
	"strings"
	"testing"
)

func TestUtilitiesByWords(t *testing.T) {
	for text, want := range map[string]string{
		"WaterMains_2019": "water", "wtr_lines": "water", "Reclaimed Water": "reclaimed", "Storm water": "sewer",
		"GAS": "gas", "NG": "gas", "W": "water", "SS": "sewer", "street lights 120kV": "electric", "FiberOptic": "communication",
		"water and sewer": "sewer water", "ss_export": "", "survey": "", "cable": "", "": "", "comms": "communication", "Gasse": "",
	} {
		if got := strings.Join(UtilitiesIn(text), " "); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
