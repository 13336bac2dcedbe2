package plans

import (
	"errors"
	"strings"
	"testing"
)

const seasonCostText = "[costs]\ncurrency = \"crowns\"\ncrop_per_ha = 900\ntreatment_per_ha = 35\nscout_per_hour = 22\nfield_ha = 30\n"

// Over a season the plan of least loss loses no more than that for the stated promises,
// promises what it does, and says why it cannot be made.
func TestBalanceSeason(t *testing.T) {
	with := func(late string) Protocol {
		return seasonProtocol(t, `rho = "0.02..0.05"`, "rho = 0.05", `growth = "0.14..0.15"`, "growth = 0.15",
			"[[stage]]", seasonCostText+"[[stage]]", "upper = \"22%\"", "upper = \"22%\"\n"+late)
	}
	p := with("late_loss = \"10%\"\nneedless_risk = \"10%\"\nmissed_risk = \"10%\"")
	plan, b, err := BalanceSeason(t.Context(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	r := plan.Season
	if b.Stated == nil || r.Loss.Total() > b.Stated.Total() || b.StatedNeedless != .4 || p.Seasonal.Needless != .4 {
		t.Errorf("loses %+v; for the stated promises %+v", r.Loss, b)
	}
	s := plan.Protocol.Seasonal
	if !r.Kept || !r.Balanced || s.Needless != promisable(r.Needless) || s.Late != promisable(r.Late) || !strings.Contains(strings.Join(r.Chosen, " "), "needless_risk") {
		t.Errorf("%+v promises %g and %g", r, s.Needless, s.Late)
	}
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if read, err := ReadPlan(text); err != nil || read.Season.Loss == nil || *read.Season.Loss != *r.Loss {
		t.Errorf("read back: %v", err)
	}
	for want, p := range map[string]Protocol{"late_loss": with(""), "costs": seasonProtocol(t)} {
		_, _, err := BalanceSeason(t.Context(), p, DesignOptions{})
		if field, ok := errors.AsType[*FieldError](err); !ok || !strings.Contains(field.Path, want) {
			t.Errorf("without %s: %v", want, err)
		}
	}
	if _, _, err := BalanceSeason(t.Context(), p, DesignOptions{Method: Fixed}); err == nil {
		t.Error("balanced over the season by another method")
	}
}
