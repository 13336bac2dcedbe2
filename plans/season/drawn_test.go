package season

import (
	"math"
	"testing"

	"stopwise/plans/rule"
)

// Drawn seasons agree with the chain within their error, and the same seed draws the
// same.
func TestDraw(t *testing.T) {
	const fields = 4000
	s := twoStages()
	chain, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, course := range []Course{{Start: .07}, {Start: .004, Growth: .14}, {}} {
		drawn, err := chain.Draw(course, fields, 5)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := chain.Draw(course, 3, 5)
		p := mustFollow(t, s, course)
		treated, visits, stops := 0.0, 0.0, 0.0
		for n, vs := range drawn {
			if n < len(again) && len(again[n]) != len(vs) {
				t.Errorf("field %d: the same seed draws %d and %d visits", n, len(vs), len(again[n]))
			}
			for i, v := range vs {
				visits++
				stops += float64(v.Seen.Stop)
				if v.Seen.Verdict == rule.Act {
					treated++
					if i+1 < len(vs) {
						t.Fatalf("a field is visited after its treatment: %+v", vs)
					}
				}
			}
		}
		// Four standard errors; visits and stops of a field vary by less than their number.
		if se := math.Sqrt(p.Treated*(1-p.Treated)/fields) + 1e-9; math.Abs(treated/fields-p.Treated) > 4*se {
			t.Errorf("%+v: treated %g, exactly %g", course, treated/fields, p.Treated)
		}
		for name, x := range map[string][2]float64{"visits": {visits / fields, p.Visits}, "stops": {stops / fields, p.Stops}} {
			if math.Abs(x[0]-x[1]) > 4*x[1]/math.Sqrt(fields) {
				t.Errorf("%+v: %s %g, exactly %g", course, name, x[0], x[1])
			}
		}
	}
	if _, err := chain.Draw(Course{}, 0, 1); err == nil {
		t.Error("no fields are drawn")
	}
}
