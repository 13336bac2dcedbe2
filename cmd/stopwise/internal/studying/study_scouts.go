package studying

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/validate"
)

type scoutsFlags struct {
	made
	share, act *shell.Option[float64]
	scouts     *shell.Option[int]
	seed       *shell.Option[uint64]
}

func studyScouts() shell.Question {
	f := &scoutsFlags{
		made:   newMade(),
		share:  shell.ShareUpTo("share", "`SHARE` true share of plants infested in the field").WithDefault("15%"),
		act:    actAtFlag("22%"),
		scouts: shell.NewOption("scouts", "`COUNT` scouts, each with a visit of its own", shell.Whole(1, 1_000_000)).WithDefault("1000"),
		seed:   shell.SeedFlag(),
	}
	return shell.Question{
		Name:  "scouts",
		Usage: "let many scouts visit the same field, and compare what they find",
		Description: `Sends many scouts through one and the same field, whose share infested is known. All do everything right; they only pick other stops. Shown are their estimates, once with independent plants and once with plants of a stop alike, how many of them come to the wrong verdict, and the exact value beside each simulated one.

$ stopwise study scouts
$ stopwise study scouts --share 30% --stops 8 --rho 0.2 --seed 7`,
		Flags:  append([]cli.Flag{f.share, f.act}, append(f.flags(), f.scouts, f.seed)...),
		Answer: func(ctx context.Context, _ *cli.Context) (report.Output, error) { return f.show(ctx) },
	}
}

func (f *scoutsFlags) show(ctx context.Context) (report.Output, error) {
	rhos, err := f.both()
	if err != nil {
		return report.Output{}, err
	}
	v := validate.FixedVisit{Stops: f.stops.Value, Plants: f.plants.Value, Threshold: f.act.Value}
	var cases []validate.Scouts
	for _, rho := range rhos {
		s, err := validate.ManyScouts(ctx, v, sampling.Infested{P: f.share.Value, Rho: rho}, validate.Options{Visits: f.scouts.Value, Seed: f.seed.Value})
		if err != nil {
			return report.Output{}, err
		}
		cases = append(cases, s)
	}
	return scoutsOutput(cases, f.seed.Value), nil
}

type scoutsJSON struct {
	report.Envelope
	Stops         int          `json:"stops"`
	PlantsPerStop int          `json:"plants_per_stop"`
	Share         float64      `json:"share"`
	Act           int          `json:"act"`
	RightVerdict  string       `json:"right_verdict"`
	Scouts        int          `json:"scouts"`
	Seed          uint64       `json:"seed"`
	Cases         []scoutsCase `json:"cases"`
}

type scoutsCase struct {
	Rho           float64       `json:"rho"`
	Mean          float64       `json:"mean_estimate"`
	MeanSE        float64       `json:"mean_estimate_se"`
	Spread        float64       `json:"spread"`
	SpreadSE      float64       `json:"spread_se"`
	StandardError float64       `json:"standard_error"`
	Wrong         float64       `json:"wrong"`
	WrongSE       float64       `json:"wrong_se"`
	WrongExact    float64       `json:"wrong_exact"`
	Low           float64       `json:"estimate_5_percent"`
	High          float64       `json:"estimate_95_percent"`
	Totals        []scoutsTotal `json:"totals"`
}

type scoutsTotal struct {
	Infested int     `json:"infested"`
	Scouts   int     `json:"scouts"`
	P        float64 `json:"p"`
}

// A scoutsCSV is a total of all cases in one table.
type scoutsCSV struct {
	Rho      float64 `json:"rho"`
	Infested int     `json:"infested"`
	Plants   int     `json:"plants"`
	Verdict  string  `json:"verdict"`
	Right    bool    `json:"right"`
	Scouts   int     `json:"scouts"`
	P        float64 `json:"p"`
}

func scoutsOutput(cases []validate.Scouts, seed uint64) report.Output {
	one := cases[0]
	j := scoutsJSON{
		Envelope: report.Envelope{Kind: "stopwise study scouts", Version: 1},
		Stops:    one.Visit.Stops, PlantsPerStop: one.Visit.Plants, Share: one.Field.P, Act: one.Visit.Act(),
		RightVerdict: rightVerdict(one.ShouldAct()), Scouts: one.N, Seed: seed,
	}
	var rows []scoutsCSV
	for _, s := range cases {
		c := scoutsCase{
			Rho: s.Field.Rho, Mean: s.Estimate().Value, MeanSE: s.Estimate().SE, Spread: s.Spread().Value, SpreadSE: s.Spread().SE,
			StandardError: s.StandardError(), Wrong: s.Wrong().Value, WrongSE: s.Wrong().SE(), WrongExact: s.WrongChance(),
			Low: s.Quantile(0.05), High: s.Quantile(0.95),
		}
		for x, n := range s.Seen {
			act := x >= s.Visit.Act()
			c.Totals = append(c.Totals, scoutsTotal{x, n, s.Chances[x]})
			rows = append(rows, scoutsCSV{s.Field.Rho, x, s.Visit.Total(), rightVerdict(act), act == s.ShouldAct(), n, s.Chances[x]})
		}
		j.Cases = append(j.Cases, c)
	}
	return report.Output{Doc: scoutsDocument(cases, seed), Records: report.RecordsOf(rows), JSON: j}
}

func rightVerdict(act bool) string {
	if act {
		return plans.Act.String()
	}
	return plans.Leave.String()
}

func scoutsDocument(cases []validate.Scouts, seed uint64) *report.Document {
	one := cases[0]
	v := one.Visit
	d := &report.Document{}
	d.Heading(fmt.Sprintf("The same field, scouted by %s", report.Count(one.N, "scout", "scouts")))
	d.Para("In this field %s of the plants are infested. Each scout picks %s and acts when %d or more of the %d plants are infested (%s). The right verdict is %s.",
		report.Share(one.Field.P), say.StopsOf(v.Stops, v.Plants), v.Act(), v.Total(), report.Percent(float64(v.Act())/float64(v.Total())), rightVerdict(one.ShouldAct()))
	d.Drawing(scoutsHistogram(cases).In)
	d.Para("Bars count scouts: ░ right verdict, █ wrong verdict, │ where the exact chance would have it.")
	t := report.NewTable(fmt.Sprintf("The estimates: their mean and their spread (standard deviation), simulated (± one standard error, seed %d) beside exact, and between what nine in ten of them lie. Of many such simulations two in three lie within one standard error of the exact value, and 19 of 20 within two.", seed),
		"field", ">mean", ">spread", ">exact", ">9 in 10 see")
	w := report.NewTable("The verdicts: the share of wrong ones, simulated beside exact.", "field", ">wrong", ">exact")
	for _, s := range cases {
		m, sd := s.Estimate(), s.Spread()
		t.Add(alike(s.Field.Rho), plusMinus(m), plusMinus(sd), report.Percent(s.StandardError()), report.Percent(s.Quantile(0.05))+" to "+report.Percent(s.Quantile(0.95)))
		w.Add(alike(s.Field.Rho), say.ChanceText(s.Wrong()), report.Percent(s.WrongChance()))
	}
	d.Table(t)
	d.Table(w)
	d.Para("%s", scoutsLesson(cases))
	return d
}

func plusMinus(m validate.Mean) string {
	if m.SE == 0 {
		return report.Percent(m.Value)
	}
	return report.Percent(m.Value) + " ± " + report.Percent(m.SE)
}

func scoutsLesson(cases []validate.Scouts) string {
	s := "Every scout is right here: the field is far from where verdicts change."
	for _, c := range cases {
		if c.Wrong().Value > 0 {
			s = "Nobody made a mistake: the stops differ, and so do the verdicts."
		}
	}
	if len(cases) < 2 {
		return s
	}
	free, clumped := cases[0], cases[1]
	v := free.Visit
	s += fmt.Sprintf(" Plants of a stop that are alike tell less: the %s here are worth %s independent ones.",
		report.Count(v.Total(), "plant", "plants"), report.Number(float64(v.Total())/sampling.DesignEffect(v.Plants, clumped.Field.Rho), 2))
	if free.StandardError() > 0 {
		s += fmt.Sprintf(" The estimates spread %s times as far, and the chance of the wrong verdict goes from %s to %s.",
			report.Number(clumped.StandardError()/free.StandardError(), 2), report.Percent(free.WrongChance()), report.Percent(clumped.WrongChance()))
	}
	return s
}

// classRows is about how many classes a histogram has.
const classRows = 18

// scoutsHistogram puts totals into classes of equal width, so that the act number
// begins one.
func scoutsHistogram(cases []validate.Scouts) report.Histogram {
	first, last := shownTotals(cases)
	act, total := cases[0].Visit.Act(), cases[0].Visit.Total()
	width := max(1, int(math.Ceil(float64(last-first+1)/classRows)))
	h := report.Histogram{Label: fmt.Sprintf("infested of %d", total)}
	for _, s := range cases {
		h.Panels = append(h.Panels, alike(s.Field.Rho))
	}
	truth := cases[0].Field.P * float64(total)
	start := act - int(math.Ceil(float64(act-first)/float64(width)))*width
	for from := start; from <= last; from += width {
		to := min(from+width-1, total)
		r := report.HistogramRow{Label: classLabel(max(0, from), to)}
		if from == act && from > start {
			r.Above = fmt.Sprintf("act from here on, %d of %d", act, total)
		}
		if truth >= float64(from) && truth < float64(from+width) {
			r.Note = "< the truth, " + report.Share(cases[0].Field.P)
		}
		for _, s := range cases {
			b := report.Bar{Dark: (from >= act) != s.ShouldAct()}
			for x := max(0, from); x <= to; x++ {
				b.Count += s.Seen[x]
				b.Expected += s.Chances[x] * float64(s.N)
			}
			r.Bars = append(r.Bars, b)
		}
		h.Rows = append(h.Rows, r)
	}
	return h
}

// shownTotals returns the range of totals that were seen or are likely.
func shownTotals(cases []validate.Scouts) (first, last int) {
	first, last = cases[0].Visit.Total(), 0
	for _, s := range cases {
		for x, n := range s.Seen {
			if n > 0 || s.Chances[x]*float64(s.N) >= 0.5 {
				first, last = min(first, x), max(last, x)
			}
		}
	}
	return first, last
}

func classLabel(from, to int) string {
	if from == to {
		return fmt.Sprintf("%4d", from)
	}
	return fmt.Sprintf("%4d to %d", from, to)
}
