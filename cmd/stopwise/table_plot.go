package main

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// drawTable writes the picture that was asked for, and says so.
func drawTable(d *report.Document, plan *plans.Plan, stages []*plans.StagePlan, plot *option[string], walk *option[[]plans.Count]) error {
	switch {
	case walk.set && !plot.set:
		return usageError("--walk goes with --plot; for a verdict use stopwise check")
	case walk.set && len(stages) > 1:
		return usageError("--walk is of one stage; say which with --stage: %s", strings.Join(stageNames(plan), ", "))
	case !plot.set:
		return nil
	}
	picture, err := staircasesFigure(plan, stages, walk.value)
	if err != nil {
		return err
	}
	if err := writePicture(plot.value, picture); err != nil {
		return err
	}
	d.Para("Picture written to %s.", plot.value)
	return nil
}

// staircasesFigure draws the decision tables of stages. walk holds the counts so
// far of a walk in the only stage, and may be empty.
func staircasesFigure(plan *plans.Plan, stages []*plans.StagePlan, walk []plans.Count) (figure.Picture, error) {
	v := figure.Staircases{Title: pictureTitle("Decision table", plan.Protocol.About())}
	if len(stages) == 1 {
		v.Title += inStage(stages[0])
	}
	s := stages[0]
	v.Note = fmt.Sprintf("Total of %s so far, after each stop. On or below the lower stairs: leave the field and come back. On or above the upper stairs: act, the threshold is taken as reached. Between them: walk on.",
		counted(s.Measure))
	for _, s := range stages {
		c := staircase(s, nil)
		if len(walk) > 0 {
			a, err := s.Check(walk)
			if err != nil {
				return nil, usageError("--walk: %v", err)
			}
			c = staircase(s, walk)
			c.Head, c.Decided = c.Head+": "+walkName(s, a), a.DecidedAt
			v.Note += " Dots: the walk so far; the ring is where it stands or ended."
			if a.Uneven {
				v.Note += " The numbers are taken at the plants really seen."
			}
			v.Desc = joined(" ", v.Desc, verdictSentence(s, a))
		}
		v.Stages = append(v.Stages, c)
		if s.Sign != nil {
			v.Note += fmt.Sprintf(" At %s act also asks that this sign was seen at %s or more: %s.", orThisStage(s.Name), report.Count(s.Sign.Stops, "stop", "stops"), s.Sign.Text)
		}
		v.Desc = joined(" ", v.Desc, stairsInWords(s))
	}
	return v.Picture()
}

func orThisStage(name string) string {
	if name == "" {
		return "this stage"
	}
	return name
}

// staircase returns the numbers of a stage's table, or those of a walk: as on
// the plants really seen, and from there on as planned.
func staircase(s *plans.StagePlan, walk []plans.Count) figure.Staircase {
	v := figure.Staircase{
		Head:      "Total of " + counted(s.Measure) + inStage(s),
		StopLabel: fmt.Sprintf("stop (%d plants each)", s.Plants()),
	}
	plants, total := 0, 0
	for j := 1; j <= s.Table.Stops(); j++ {
		seen := s.Plants()
		if j <= len(walk) {
			if walk[j-1].Plants > 0 {
				seen = walk[j-1].Plants
			}
			total += walk[j-1].Total
			v.Walk = append(v.Walk, total)
		}
		plants += seen
		leave, act := s.Table.At(j, s.Units(plants))
		last := j == s.Table.Stops()
		if act == plans.NeverAct || s.Measure == plans.ShareInfested && act > plants && !last {
			act = -1
		}
		v.Leave, v.Act = append(v.Leave, leave), append(v.Act, act)
	}
	return v
}

func walkName(s *plans.StagePlan, a plans.Answer) string {
	switch {
	case a.SignMissing:
		return fmt.Sprintf("the count reached at stop %d, but the sign not seen, come back", a.DecidedAt)
	case a.Verdict == plans.Continue:
		return fmt.Sprintf("%d after stop %d, walk on", a.Total, a.Stop)
	}
	if a.DecidedAt < a.Stop {
		return fmt.Sprintf("%s at stop %d", a.Verdict, a.DecidedAt)
	}
	if a.Verdict == plans.Act {
		return fmt.Sprintf("act at stop %d, %d reaches %d", a.Stop, a.Total, a.Act)
	}
	return fmt.Sprintf("leave at stop %d, %d is not above %d", a.Stop, a.Total, a.Leave)
}

// stairsInWords tells the ends of a table to those who cannot see it.
func stairsInWords(s *plans.StagePlan) string {
	first, last := s.Table.First(), s.Table.Stops()
	text := fmt.Sprintf("First verdict at stop %d: leave %s, act %s. Last stop %d: leave at or below %d, else act.",
		first, bound("at or below", s.Table.Leave[first-1], plans.NeverLeave), bound("at or above", s.Table.Act[first-1], plans.NeverAct), last, s.Table.Leave[last-1])
	if s.Name != "" {
		text = "Stage " + s.Name + ". " + text
	}
	return text
}

func bound(side string, n, never int) string {
	if n == never {
		return "never"
	}
	return fmt.Sprintf("%s %d", side, n)
}
