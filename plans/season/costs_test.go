package season

import (
	"testing"

	"stopwise/plans/rule"
)

// The plan of least loss loses what a chain made anew says, and less than any schedule of
// a fixed number of stops; dearer treatments bring fewer needless ones, dearer delays fewer
// late ones.
func TestSearchOfLeastLoss(t *testing.T) {
	at := func(k Costs) (*Plan, *Path) {
		p := scenario(2, true)
		p.Rough, p.Walks[0].Maximum, p.Costs, p.Promise = true, 8, &k, Promise{}
		p.Mix.StayingLevel = .07
		got, err := Search(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		staying := mustFollow(t, got.Season, Course{Start: .07})
		growing := mustFollow(t, got.Season, Course{Start: .004, Growth: .12})
		near(t, "needless", got.Loss.Needless, k.Treatment*(.5*mustFollow(t, got.Season, Course{}).Treated+.3*staying.Treated))
		late := 0.0
		for day, d := range growing.Days {
			late += d.Treated * k.late(growing.AfterUpper.after(day))
		}
		late += (1 - growing.Treated) * k.late(growing.AfterUpper.after(50))
		near(t, "late", got.Loss.Late, .2*late)
		near(t, "scouting", got.Loss.Scouting, k.Hour*got.Minutes/60)
		if !got.Kept {
			t.Error("a promise is broken where none was given")
		}
		p.Promise = Promise{.5, .5, 3}
		rows, err := Trade(t.Context(), p, []Schedule{{4, 14, 7}, {2, 10, 5}, {8, 10, 5}, {3, 7, 4}, {5, 7, 4}, {3, 5, 3}},
			func(stops int) ([]rule.Table, bool) {
				open := rule.Table{Units: 15}
				for j := range stops {
					open.Leave, open.Act = append(open.Leave, rule.NeverLeave), append(open.Act, rule.NeverAct)
					if j+1 == stops {
						open.Leave[j], open.Act[j] = 15*stops*14/100, 15*stops*14/100+1
					}
				}
				return []rule.Table{open}, true
			}, k)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if r.Loss.Total() < got.Loss.Total() {
				t.Errorf("costs %+v: %+v loses %g, the plan found %g", k, r.Schedule, r.Loss.Total(), got.Loss.Total())
			}
		}
		return got, growing
	}
	usual := Costs{Treatment: 1000, LatePerDay: 500, MostLate: 2500, Hour: 20}
	plan, grown := at(usual)
	dear := usual
	dear.Treatment = 5000
	rarer, _ := at(dear)
	if !(rarer.Needless < plan.Needless) {
		t.Errorf("dearer treatments: needless %g, was %g", rarer.Needless, plan.Needless)
	}
	urgent := usual
	urgent.LatePerDay, urgent.MostLate = 4000, 20000
	_, sooner := at(urgent)
	if !(sooner.AfterUpper.Expected() < grown.AfterUpper.Expected()) {
		t.Errorf("dearer delays: %g days late, was %g", sooner.AfterUpper.Expected(), grown.AfterUpper.Expected())
	}
}
