package studying

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

func studyFields(e shell.Env) shell.Question {
	f := &linesFlags{situation: shell.NewSituation(), method: shell.MethodFlag(), stage: shell.StageFlag(), last: shell.LastFlag(), seed: shell.SeedFlag(),
		plot: shell.PlotFlag("each field's true level against the level seen, with its verdict")}
	count := shell.NewOption("fields", "`COUNT` fields to visit, their levels evenly from 0 to twice the upper bound", shell.Whole(2, 100_000)).WithDefault("300")
	return shell.Question{
		Name:      "fields",
		Usage:     "visit many fields of all levels once each: what is seen, and which verdicts err",
		Arguments: "[PLAN.json]",
		Description: `Visits many fields once each by one plan, the true level of each known: how far what is seen lies from it, and which verdicts are wrong. Without a plan, the flags of design state one.

$ stopwise study fields plan.json --stage leafing --plot fields.svg
$ stopwise study fields --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1`,
		Flags: append(f.situation.Flags(), f.method, f.stage, f.last, count, f.seed, f.plot),
		Answer: func(ctx context.Context, c *cli.Context) (report.Output, error) {
			s, err := f.plan(ctx, e, c)
			if err != nil {
				return report.Output{}, err
			}
			levels := report.Evenly(0, drawing.TopLevel(s), count.Value-1)
			seen, err := validate.SampleFields(s, levels, f.seed.Value)
			if err != nil {
				return report.Output{}, err
			}
			r := fieldsResult{s, seen, f.seed.Value}
			out := r.output()
			return out, shell.Draw(out.Doc, f.plot, r.picture)
		},
	}
}

type fieldsResult struct {
	s    *plans.StagePlan
	seen []validate.Sampled
	seed uint64
}

type fieldsJSON struct {
	report.Envelope
	Stage  string          `json:"stage"`
	Seed   uint64          `json:"seed"`
	Shows  string          `json:"seen_is"` // share seen, mean seen or share estimated
	Fields []sampledRecord `json:"fields"`
}

type sampledRecord struct {
	Level   float64 `json:"level"`
	Seen    float64 `json:"seen"`
	Stops   int     `json:"stops"`
	Verdict string  `json:"verdict"`
	Wrong   bool    `json:"wrong"`
}

func (r fieldsResult) output() report.Output {
	j := fieldsJSON{Envelope: report.Envelope{Kind: "stopwise study fields", Version: 1}, Stage: r.s.Name, Seed: r.seed, Shows: r.shows()}
	type pool struct{ fields, act, leave, wrong, stops int }
	pools := map[validate.Zone]*pool{validate.Low: {}, validate.Between: {}, validate.High: {}}
	for _, f := range r.seen {
		j.Fields = append(j.Fields, sampledRecord{f.Level, f.Seen, f.Stops, f.Verdict.String(), f.Wrong()})
		p := pools[f.Zone]
		p.fields++
		p.stops += f.Stops
		if f.Verdict == plans.Act {
			p.act++
		} else {
			p.leave++
		}
		if f.Wrong() {
			p.wrong++
		}
	}
	t := report.NewTable("", "fields", ">number", ">act", ">leave", ">wrong", ">mean stops")
	for _, z := range []struct {
		zone validate.Zone
		name string
	}{{validate.Low, "at or below " + r.level(r.s.Lower)}, {validate.Between, "between the bounds"}, {validate.High, "at or above " + r.level(r.s.Upper)}} {
		p, wrong := pools[z.zone], "either verdict"
		if p.fields == 0 {
			continue
		}
		if z.zone != validate.Between {
			wrong = fmt.Sprint(p.wrong)
		}
		t.Add(z.name, fmt.Sprint(p.fields), fmt.Sprint(p.act), fmt.Sprint(p.leave), wrong, report.Number(float64(p.stops)/float64(p.fields), 3))
	}
	d := &report.Document{}
	d.Heading(fmt.Sprintf("%s, one visit each%s", report.Count(len(r.seen), "field", "fields"), say.StageTitle(r.s)))
	d.Para("%s", r.lesson())
	d.Drawing(r.chart().In)
	d.Table(t)
	question(d, "the promise allows %s and %s wrong verdicts. Why are far fewer of the fields judged wrong?", report.Share(r.s.NeedlessRisk), report.Share(r.s.MissedRisk))
	return report.Output{Doc: d, Records: report.RecordsOf(j.Fields), JSON: j}
}

func (r fieldsResult) lesson() string {
	text := fmt.Sprintf("The true levels lie evenly from 0 to %s (%s; simulated, seed %d). Few fields well away from the bounds are judged wrong: the promised risks are those at the bounds, %s and %s, and most fields are not there.",
		r.level(r.seen[len(r.seen)-1].Level), r.clump(), r.seed, report.Share(r.s.NeedlessRisk), report.Share(r.s.MissedRisk))
	if r.s.Worth.Cap > 0 {
		text += fmt.Sprintf(" Looking ends at %d a stop, so that the share seen is not known: shown is the estimate after the visit, which is 100%% where every stop reached %[1]d.", r.s.Worth.Cap)
	}
	if r.s.Sign != nil {
		text += fmt.Sprintf(" Verdicts are those of the count alone: the sign (%s), which an act needs too, is not looked at.", r.s.Sign.Text)
	}
	return text
}

func (r fieldsResult) level(x float64) string { return report.Level(r.s.Measure, x) }

// shows names what is drawn of a visit. Where looking ends at a cap the share seen is
// not known.
func (r fieldsResult) shows() string {
	switch {
	case !r.s.Measure.Bounded():
		return "mean seen"
	case r.s.Worth.Cap > 0:
		return "share estimated"
	}
	return "share seen"
}

// levelLabel names the true level.
func (r fieldsResult) levelLabel() string {
	if r.s.Measure.Bounded() {
		return "true share " + say.English().Measured(r.s.Stage)
	}
	return "true mean of insects per leaf"
}

// chart is the picture in characters.
func (r fieldsResult) chart() report.Chart {
	scale, unit := 1.0, ""
	if r.s.Measure.Bounded() {
		scale, unit = 100, ", %"
	}
	c := report.Chart{XLabel: r.levelLabel() + unit, YLabel: r.shows() + unit, X: []float64{0, scale * drawing.TopLevel(r.s)}, Rows: 22,
		Marks: []report.VMark{{X: scale * r.s.Lower, Label: "lower bound"}, {X: scale * r.s.Upper, Label: "upper bound"}}}
	for _, k := range []struct {
		acted, wrong bool
		sign         report.Sign
	}{
		{false, false, report.Sign{Mark: 'o', Name: "left"}}, {true, false, report.Sign{Mark: 'x', Name: "act"}},
		{false, true, report.Sign{Mark: 'O', Name: "left, wrong"}}, {true, true, report.Sign{Mark: 'X', Name: "act, wrong"}},
	} {
		c.Signs = append(c.Signs, k.sign)
		for _, f := range r.seen {
			if (f.Verdict == plans.Act) == k.acted && f.Wrong() == k.wrong {
				c.Points = append(c.Points, report.Point{X: scale * f.Level, Y: scale * f.Seen, Mark: k.sign.Mark})
				c.YMax = max(c.YMax, scale*f.Seen)
			}
		}
	}
	return c
}

func (r fieldsResult) clump() string { return report.Clumping(r.s.Clumped(r.s.Threshold).Value()) }

func (r fieldsResult) picture() (figure.Picture, error) {
	v := figure.Sampled{
		Title: fmt.Sprintf("%s, one visit each%s", report.Count(len(r.seen), "field", "fields"), say.InStage(r.s)),
		Note:  "Each sign is a field: rings were left, crosses got the verdict act. Large full signs are wrong verdicts: a box acted at or below the lower bound, a disc left at or above the upper one. On the dashed line what was seen is the truth. " + r.lesson(),
		Head:  say.Capital(r.shows()) + " in the visit", LevelLabel: r.levelLabel() + " in the field", Share: r.s.Measure.Bounded(),
		Lower: figure.Mark{Level: r.s.Lower, Name: "lower bound " + r.level(r.s.Lower)}, Upper: figure.Mark{Level: r.s.Upper, Name: "upper bound " + r.level(r.s.Upper)},
	}
	for _, f := range r.seen {
		v.Fields = append(v.Fields, figure.SampledField{Level: f.Level, Seen: f.Seen, Acted: f.Verdict == plans.Act, Wrong: f.Wrong()})
	}
	return v.Picture()
}
