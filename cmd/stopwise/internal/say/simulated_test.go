package say

import (
	"testing"

	"stopwise/plans"
	"stopwise/validate"
)

func TestSetting(t *testing.T) {
	for want, r := range map[string]validate.Row{
		"rho 0.2":                          {World: validate.OtherRho, Numbers: []validate.Number{{Name: "rho", Value: 0.2}}},
		"count rho 0.15":                   {World: validate.OtherAlike, Numbers: []validate.Number{{Name: "count_rho", Value: 0.15}}},
		"k anywhere in 0.5..2":             {World: validate.Mixture, Numbers: []validate.Number{{Name: "k_low", Value: 0.5}, {Name: "k_high", Value: 2}}},
		"5% overlooked, 1.5% false alarms": {World: validate.Misreading, Numbers: []validate.Number{{Name: "overlooked", Value: 0.05}, {Name: "false_alarm", Value: 0.015}}},
		"5% overlooked":                    {World: validate.Misreading, Numbers: []validate.Number{{Name: "overlooked", Value: 0.05}}},
		"from 75% up":                      {World: validate.ShortStops, Numbers: []validate.Number{{Name: "least", Value: 0.75}}},
	} {
		if got := Setting(r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestRequiredReadsBack(t *testing.T) {
	for _, text := range []string{"needless<=10%", "missed<=4.5%", "stops<=9", "minutes<=62.5"} {
		qs, err := validate.ParseRequirements(text, plans.Stage{})
		if err != nil || len(qs) != 1 || Required(qs[0]) != text {
			t.Errorf("%q is written as %v (%v)", text, qs, err)
		}
	}
}
