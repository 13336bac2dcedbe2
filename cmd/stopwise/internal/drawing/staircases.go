package drawing

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
)

// StaircasesFigure draws the decision tables of stages. walk holds the counts so
// far of a walk in the only stage, and may be empty.
func StaircasesFigure(plan *plans.Plan, stages []*plans.StagePlan, walk []plans.Count) (figure.Picture, error) {
	v := figure.Staircases{Title: say.PictureTitle("Decision table", plan.Protocol.About())}
	if len(stages) == 1 {
		v.Title += say.InStage(stages[0])
	}
	v.Note = say.HowToReadStairs(stages)
	for _, s := range stages {
		c := Staircase(s, nil)
		if len(walk) > 0 {
			a, err := s.Check(walk)
			if err != nil {
				return nil, err
			}
			c = Staircase(s, walk)
			c.Head, c.Decided = c.Head+": "+say.WalkName(s, a), a.DecidedAt
			v.Note += " Dots: the walk so far; the ring is where it stands or ended."
			if a.Uneven {
				v.Note += " The numbers are taken at the " + report.UnitsName(s.Stage) + " really seen."
			}
			v.Desc = say.Joined(" ", v.Desc, say.English().VerdictSentence(s, a))
		}
		v.Stages = append(v.Stages, c)
		if s.Sign != nil {
			v.Note += " " + say.StairsSign(s)
		}
		v.Desc = say.Joined(" ", v.Desc, say.StairsInWords(s))
	}
	return v.Picture()
}

// Staircase returns the numbers of a stage's table, or those of a walk: as on
// the plants really seen, and from there on as planned.
func Staircase(s *plans.StagePlan, walk []plans.Count) figure.Staircase {
	v := figure.Staircase{
		Head:      "Total of " + say.English().Added(s) + say.InStage(s),
		StopLabel: fmt.Sprintf("stop (%s each)", report.Units(s.Stage, s.Plants())),
	}
	for j, at := range s.Standings(walk) {
		if j < len(walk) {
			v.Walk = append(v.Walk, at.Counted)
		}
		act := at.Act
		if act == plans.NeverAct {
			act = -1
		}
		v.Leave, v.Act = append(v.Leave, at.Leave), append(v.Act, act)
	}
	return v
}
