package report

import (
	"testing"

	"stopwise/plans/protocol"
)

// The unit has one word for one and many wherever it is counted.
func TestUnitWords(t *testing.T) {
	for word, many := range map[string]string{
		"": "plants", "stem": "stems", "sweep": "sweeps", "leaf": "leaves", "youngest leaf": "leaves", "branch": "branches", "box": "boxes", "tray": "trays", "berry": "berries",
	} {
		if word == "youngest leaf" {
			many = "youngest leaves"
		}
		if got := UnitsName(protocol.Terms{Unit: protocol.SampleUnit{Word: word}}); got != many {
			t.Errorf("%q: %q, want %q", word, got, many)
		}
	}
}

func TestUnitsOfSeveralStages(t *testing.T) {
	ear, stem := protocol.Terms{Unit: protocol.SampleUnit{Word: "ear"}}, protocol.Terms{Unit: protocol.SampleUnit{Word: "stem"}}
	for want, all := range map[string][]protocol.Terms{"plants": nil, "ears": {ear, ear}, "ears or stems": {ear, stem, ear}, "plants or stems": {{}, stem}} {
		if got := UnitsNames(all); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if a, b := OneUnit(ear), OneUnit(stem); a != "an ear" || b != "a stem" {
		t.Errorf("%q, %q", a, b)
	}
}
