package following

import (
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans/season"
)

type followJSON struct {
	report.Envelope
	Stage   *string      `json:"stage"` // null where the stages follow each other
	Days    int          `json:"days"`
	Lead    int          `json:"lead_days"`
	Visits  []visitsJSON `json:"coming_back"`
	Stay    []stayJSON   `json:"stay"`
	Grow    []growJSON   `json:"grow"`
	Growing int          `json:"grow_days"` // growing fields are followed until this day
	// CountAlone says that how often a sign is seen is not known: chances to be
	// treated are then those of the counts, which it can only lower.
	CountAlone bool `json:"count_alone"`
}

type visitsJSON struct {
	Stage       string `json:"stage"`
	UntilFound  int    `json:"days_until_found"`
	OnceFound   int    `json:"days_once_found"`
	GrowthLimit bool   `json:"growth_limit"`
}

type effortJSON struct {
	Visits  float64 `json:"visits"`
	Stops   float64 `json:"stops"`
	Plants  float64 `json:"plants"`
	Minutes float64 `json:"minutes"`
}

// stayJSON is a field that stays; its level is null where it is at the lower bound of
// each of several stages.
type stayJSON struct {
	Level   *float64 `json:"level"`
	AtLower bool     `json:"at_lower"`
	Treated float64  `json:"p_treated"`
	Early   float64  `json:"p_early"`
	effortJSON
}

type growJSON struct {
	Growth         float64  `json:"growth"`
	Start          float64  `json:"start"`
	Crossing       *float64 `json:"crossing_day"`
	UpperDay       *float64 `json:"upper_day"`
	Treated        float64  `json:"p_treated"`
	Early          float64  `json:"p_early"`
	AfterThreshold *float64 `json:"days_after_threshold"` // this and what follows is null where it depends on the sign
	AfterUpper     *float64 `json:"days_after_upper"`
	AfterUpper90   *float64 `json:"days_after_upper_90_percent"`
	Late           *float64 `json:"p_late"`
	LateDays       float64  `json:"late_days"`
	effortJSON
}

// csvRow is a field of either kind.
type csvRow struct {
	Kind           string   `json:"kind"`
	Level          *float64 `json:"level"`
	Growth         *float64 `json:"growth"`
	Crossing       *float64 `json:"crossing_day"`
	UpperDay       *float64 `json:"upper_day"`
	Treated        float64  `json:"p_treated"`
	Early          float64  `json:"p_early"`
	AfterThreshold *float64 `json:"days_after_threshold"`
	AfterUpper     *float64 `json:"days_after_upper"`
	Late           *float64 `json:"p_late"`
	LateDays       *float64 `json:"late_days"`
	effortJSON
}

func (v *view) output() report.Output {
	s := v.stages[0]
	out := followJSON{
		Envelope:   report.Envelope{Kind: "stopwise follow", Version: 1},
		CountAlone: say.CountAlone(v.stages),
		Days:       v.staying.LastDay, Lead: v.staying.Lead, Growing: v.growing.LastDay,
		Stay: []stayJSON{}, Grow: []growJSON{},
	}
	if len(v.stages) == 1 {
		out.Stage = &s.Name
	}
	for i, st := range v.staying.Stages {
		out.Visits = append(out.Visits, visitsJSON{v.stages[i].Name, st.Classes[0].Interval, st.Classes[1].Interval, st.Classes[0].Limit != nil})
	}
	per := float64(s.UnitsPerPlant())
	var rows []csvRow
	stay := stayTable(report.UnitsName(v.stages[0].Stage))
	for _, p := range v.stay {
		e := effortJSON{p.Visits, p.Stops, p.Units / per, p.Minutes}
		l := report.Finite(level(v, p.Course))
		out.Stay = append(out.Stay, stayJSON{l, p.Course.AtLower, p.Treated, p.Early, e})
		rows = append(rows, csvRow{Kind: "stays", Level: l, Treated: p.Treated, Early: p.Early, effortJSON: e})
		stay.Add(v.levelText(p.Course), report.Percent(p.Treated), needlessText(p),
			report.Number(e.Visits, 3), report.Number(e.Stops, 3), report.Number(e.Plants, 3), report.Minutes(e.Minutes))
	}
	grow := growTable(v.lateDays)
	for _, p := range v.grow {
		e := effortJSON{p.Visits, p.Stops, p.Units / per, p.Minutes}
		g := growJSON{
			Growth: p.Course.Growth, Start: p.Course.Start,
			Crossing: report.Finite(p.AfterThreshold.Day), UpperDay: report.Finite(p.AfterUpper.Day),
			Treated: p.Treated, Early: p.Early,
			LateDays: v.lateDays, effortJSON: e,
		}
		if !out.CountAlone {
			after, upper, late := p.AfterThreshold.Expected(), p.AfterUpper.Expected(), p.AfterUpper.Later(v.lateDays)
			g.AfterThreshold, g.AfterUpper, g.AfterUpper90, g.Late = &after, &upper, report.Finite(p.AfterUpper.Quantile(.9)), &late
		}
		out.Grow = append(out.Grow, g)
		rows = append(rows, csvRow{Kind: "grows", Level: &g.Start, Growth: &g.Growth, Crossing: g.Crossing, UpperDay: g.UpperDay,
			Treated: p.Treated, Early: g.Early, AfterThreshold: g.AfterThreshold, AfterUpper: g.AfterUpper, Late: g.Late, LateDays: &g.LateDays, effortJSON: e})
		grow.Add(report.Constant(g.Growth), report.Level(s.Measure, g.Start), dayText(p.AfterThreshold.Day), dayText(p.AfterUpper.Day),
			report.Percent(p.Early), orNotKnown(g.AfterThreshold, twoDigits), orNotKnown(g.AfterUpper, twoDigits), orNotKnown(g.Late, report.Percent),
			report.Number(e.Visits, 3), report.Number(e.Stops, 3), report.Minutes(e.Minutes))
	}
	d := &report.Document{}
	title := say.Titled(s.About)
	if len(v.stages) == 1 {
		title = say.StageTitle(s)
	}
	d.Heading("Over the season" + title)
	if p := v.mostNeedless(); p != nil {
		d.Para("%s", say.StaySentence(v.stages, p))
	}
	for _, p := range v.grow {
		d.Para("%s", say.GrowSentence(v.stages, p, v.lateDays))
	}
	d.Para("%s", say.VisitsSentence(v.stages, v.staying, v.firstDay, v.options.Clump))
	if len(v.stay) > 0 {
		d.Table(stay)
	}
	if len(v.grow) > 0 {
		d.Table(grow)
	}
	for _, st := range v.stages {
		switch {
		case st.SignKnown():
			d.Note("In %s the sign has its say: its chance is that of the protocol at both bounds and on the straight line between them, and it is taken as independent of the counts.", say.OrThisStage(st.Name))
		case st.Sign != nil:
			d.Note("In %s the season is that of the counts alone: where the sign forbids a treatment, fields are treated less often and later.", say.OrThisStage(st.Name))
		}
	}
	for _, st := range v.stages {
		if st.Independent() {
			d.Note("In %s leaves are taken as independent; where the counts of a stop are alike, more visits go wrong.", say.OrThisStage(st.Name))
		}
	}
	d.Note("The chances are exact sums, not simulated, for a level that goes to the letter as said and for visits that start their route anew each time: the same stops again and again meet the same spots.")
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: out}
}

// orNotKnown writes a number that may not be known.
func orNotKnown(x *float64, text func(float64) string) string {
	if x == nil {
		return say.NotKnown
	}
	return text(*x)
}

func twoDigits(x float64) string { return report.Number(x, 2) }

// mostNeedless returns the staying fields that are treated needlessly most often; nil
// where none is.
func (v *view) mostNeedless() *season.Path {
	var most *season.Path
	for _, p := range v.stay {
		if p.Early > 0 && (most == nil || p.Early > most.Early) {
			most = p
		}
	}
	return most
}

func dayText(day float64) string {
	if math.IsInf(day, 1) {
		return "never"
	}
	return report.Fixed(day, 1)
}
