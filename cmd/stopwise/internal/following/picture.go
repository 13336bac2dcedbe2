package following

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans/season"
)

// drawnLevels is the number of steps of a drawn curve.
const drawnLevels = 60

// picture draws the chance to be treated by level, and a growing field's days.
func (v *view) picture() (figure.Picture, error) {
	s := v.stages[0]
	f := figure.Followed{
		Title: say.PictureTitle("Over the season", s.About),
		Note: "Exact for the plan and its dates; visits count as independent given the level. " +
			"At and below the lower bound every treatment is needless.",
		TreatedHead: "Fields that stay at a level: chance to be treated at least once",
		LevelLabel:  "level at which the field stays",
		Share:       s.Measure.Bounded(),
	}
	if len(v.stages) == 1 {
		f.Title += say.InStage(s)
		mark := func(name string, l float64) figure.Mark {
			return figure.Mark{Level: l, Name: name + " " + report.Level(s.Measure, l)}
		}
		f.Lower, f.Threshold, f.Upper = mark("lower bound", s.Lower), mark("threshold", s.Threshold), mark("upper bound", s.Upper)
	}
	chain, err := season.New(v.staying)
	if err != nil {
		return nil, err
	}
	last := v.staying.LastDay
	half := last / 2
	lines := []figure.Line{{Name: fmt.Sprintf("by day %d", last)}, {Name: fmt.Sprintf("by day %d", half)}}
	for _, l := range report.Evenly(0, 1.2*s.Upper, drawnLevels) {
		if f.Share {
			l = math.Min(l, 1)
		}
		p, err := chain.Follow(season.Course{Start: l}, v.firstDay...)
		if err != nil {
			return nil, err
		}
		treated := 0.0
		for day, d := range p.Days {
			if treated += d.Treated; day == half {
				lines[1].Points = append(lines[1].Points, figure.XY{X: l, Y: treated})
			}
		}
		lines[0].Points = append(lines[0].Points, figure.XY{X: l, Y: treated})
	}
	f.Treated = lines
	if len(v.grow) > 0 {
		v.drawGrowing(&f, v.grow[0])
	} else if len(v.stay) > 0 {
		p := v.stay[len(v.stay)-1]
		f.VisitHead = fmt.Sprintf("A field that stays at %s: chance of a visit by day", v.levelText(p.Course))
		f.VisitLabel = "day of the season"
		f.Visit, _ = byDay(p, 0)
	}
	return f.Picture()
}

// drawGrowing adds a growing field's visits and treatment.
func (v *view) drawGrowing(f *figure.Followed, p *season.Path) {
	s := v.stages[0]
	named := fmt.Sprintf("A field that grows from %s by r %s a day", report.Level(s.Measure, p.Course.Start), report.Constant(p.Course.Growth))
	f.VisitHead, f.VisitLabel = named+": chance of a visit by day", "day of the season"
	f.TreatmentHead, f.TreatmentLabel = named+": chance of its treatment by day", "day of the season on which the treatment is done"
	f.Visit, f.Treatment = byDay(p, v.growing.Lead)
	for _, m := range []figure.Mark{{Level: p.AfterThreshold.Day, Name: "at the threshold"}, {Level: p.AfterUpper.Day, Name: "at the upper bound"}} {
		if m.Level <= float64(len(f.Treatment)) {
			f.Crossings = append(f.Crossings, m)
		}
	}
	f.Desc = say.GrowSentence(v.stages, p, v.lateDays)
}

// byDay returns the chances of a visit and of a treatment by day, up to the last day
// that matters.
func byDay(p *season.Path, lead int) (visits, treated []float64) {
	for _, d := range p.Days {
		visits = append(visits, d.Visits)
		treated = append(treated, d.Treated)
	}
	treated = append(make([]float64, lead), treated...)
	cut := func(x []float64) []float64 {
		n := len(x)
		for n > 1 && x[n-1] < 1e-5 {
			n--
		}
		return x[:n]
	}
	return cut(visits), cut(treated)
}
