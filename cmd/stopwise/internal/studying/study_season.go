package studying

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/rule"
	"stopwise/plans/season"
)

// usualSeasonDays is how long a season is where no plan says it: common practice, no
// source.
const usualSeasonDays = 42

type seasonFlags struct {
	env          shell.Env
	stage        *shell.Option[string]
	at, start    *shell.Option[string]
	growth       *shell.Option[float64]
	until, once  *shell.Option[float64]
	days, fields *shell.Option[int]
	seed         *shell.Option[uint64]
	plot         *shell.Option[string]
}

func studySeason(e shell.Env) shell.Question {
	days := func(name, usage string) *shell.Option[float64] {
		return shell.NewOption(name, "`DAYS` "+usage, shell.Positive).WithoutValue("the protocol's")
	}
	f := &seasonFlags{
		env: e, stage: shell.StageFlag(),
		at:     shell.NewOption("at", "`LEVEL` at which the fields stay all season, such as 6%", shell.NotEmpty).WithoutValue("the lower bound"),
		growth: shell.NewOption("growth", "`RATE` r of fields that grow by e^(rt) instead of staying, such as 0.12", shell.Positive).WithoutValue("fields stay"),
		start:  shell.NewOption("start", "`LEVEL` of growing fields on day 0, such as 0.5%", shell.NotEmpty).WithoutValue("the protocol's season, else a twentieth of the lower bound"),
		until:  days("until-found", "between visits until the pest is found"),
		once:   days("once-found", "between visits once it is found"),
		days: shell.NewOption("days", "`DAYS` the last day on which a visit can be; the first is day 0", shell.Whole(1, 366)).
			WithoutValue(fmt.Sprintf("the protocol's season, else %d", usualSeasonDays)),
		fields: shell.NewOption("fields", "`COUNT` fields to watch", shell.Whole(1, 60)).WithDefault("20"),
		seed:   shell.SeedFlag(),
		plot:   shell.PlotFlag("the same as a picture"),
	}
	return shell.Question{
		Name:      "season",
		Usage:     "watch twenty fields through a season of visits",
		Arguments: "PLAN.json",
		Description: `Takes twenty fields of one kind through a season of visits by a plan, each visit with stops of its own, until the verdict act or the end. One line a field; below it how many were treated, and the exact chance beside it. Fields that stay at the lower bound need no treatment: watch how many get one all the same, though each visit errs seldom.

$ stopwise study season plan.json --stage leafing
$ stopwise study season plan.json --stage leafing --growth 0.12 --start 0.4% --seed 7 --plot season.svg`,
		Flags:  []cli.Flag{f.stage, f.at, f.growth, f.start, f.until, f.once, f.days, f.fields, f.seed, f.plot},
		Answer: func(_ context.Context, c *cli.Context) (report.Output, error) { return f.show(c) },
	}
}

type seasonJSON struct {
	report.Envelope
	Stage   string        `json:"stage"`
	Level   float64       `json:"level"` // on day 0
	Growth  float64       `json:"growth"`
	Days    int           `json:"days"`
	Seed    uint64        `json:"seed"`
	Treated int           `json:"treated"`
	Share   float64       `json:"treated_share"`
	SE      float64       `json:"treated_share_se"`
	Exact   float64       `json:"p_treated"`
	Fields  []seasonField `json:"fields"`
}

type seasonField struct {
	Field  int           `json:"field"`
	Visits []seasonVisit `json:"visits"`
}

type seasonVisit struct {
	Day     int    `json:"day"`
	Stops   int    `json:"stops"`
	Total   int    `json:"infested"`
	Verdict string `json:"verdict"`
}

func (f *seasonFlags) show(c *cli.Context) (report.Output, error) {
	if c.NArg() != 1 {
		return report.Output{}, shell.UsageHint("such as stopwise study season plan.json --stage leafing", "study season takes one plan, not %d arguments", c.NArg())
	}
	plan, s, err := shell.ReadStage(f.env, c.Args().First(), f.stage.Value)
	if err != nil {
		return report.Output{}, err
	}
	o := plan.SeasonOptions()
	if o.LastDay == 0 {
		o.LastDay = usualSeasonDays
	}
	shell.Put(f.days, &o.LastDay)
	if f.until.Set {
		o.UntilFound = &f.until.Value
	}
	if f.once.Set {
		o.OnceFound = &f.once.Value
	}
	over, err := plans.SeasonOf([]*plans.StagePlan{s}, o)
	if field, ok := errors.AsType[*plans.FieldError](err); ok && field.Path == "coming_back" {
		return report.Output{}, shell.UsageHint("give --until-found and --once-found", "%v", err)
	}
	if err != nil {
		return report.Output{}, err
	}
	course, err := f.course(plan, s)
	if err != nil {
		return report.Output{}, err
	}
	chain, err := season.New(over)
	if err != nil {
		return report.Output{}, err
	}
	exact, err := chain.Follow(course)
	if err != nil {
		return report.Output{}, err
	}
	drawn, err := chain.Draw(course, f.fields.Value, f.seed.Value)
	if err != nil {
		return report.Output{}, err
	}
	r := seasonResult{s: s, over: over, course: course, exact: exact, drawn: drawn, seed: f.seed.Value}
	out := r.output()
	return out, shell.Draw(out.Doc, f.plot, r.picture)
}

// course returns the fields that are watched.
func (f *seasonFlags) course(plan *plans.Plan, s *plans.StagePlan) (season.Course, error) {
	level := func(o *shell.Option[string]) (float64, error) {
		levels, err := shell.ParseLevels(o.Name, s.Measure, []string{o.Value})
		if err != nil {
			return 0, err
		}
		return levels[0], nil
	}
	var c season.Course
	var err error
	switch {
	case f.start.Set && !f.growth.Set:
		return c, shell.UsageError("--start goes with --growth; fields that stay have --at")
	case f.growth.Set && f.at.Set:
		return c, shell.UsageError("--at is of fields that stay, --growth of fields that grow; give one of them")
	case f.growth.Set:
		c.Growth, c.Start = f.growth.Value, s.Lower/20
		if p := plan.Protocol.Seasonal; p != nil {
			c.Start = p.Start
		}
		if f.start.Set {
			if c.Start, err = level(f.start); err == nil && c.Start == 0 {
				return c, shell.UsageError("--start: a field without the pest does not grow; give a level above 0")
			}
		}
	case f.at.Set:
		c.Start, err = level(f.at)
	default:
		c.Start = s.Lower
	}
	return c, err
}

type seasonResult struct {
	s      *plans.StagePlan
	over   season.Season
	course season.Course
	exact  *season.Path
	drawn  [][]season.Visited
	seed   uint64
}

func (r seasonResult) treated() int {
	n := 0
	for _, vs := range r.drawn {
		if acted(vs) {
			n++
		}
	}
	return n
}

func acted(vs []season.Visited) bool {
	return len(vs) > 0 && vs[len(vs)-1].Seen.Verdict == rule.Act
}

func (r seasonResult) output() report.Output {
	n := len(r.drawn)
	share := float64(r.treated()) / float64(n)
	j := seasonJSON{
		Envelope: report.Envelope{Kind: "stopwise study season", Version: 1}, Stage: r.s.Name, Level: r.course.Start, Growth: r.course.Growth,
		Days: r.over.LastDay, Seed: r.seed, Treated: r.treated(), Share: share, SE: math.Sqrt(share * (1 - share) / float64(n)), Exact: r.exact.Treated,
	}
	type row struct {
		Field int `json:"field"`
		seasonVisit
	}
	var rows []row
	var strips strings.Builder
	for i, vs := range r.drawn {
		field := seasonField{Field: i + 1, Visits: []seasonVisit{}}
		for _, v := range vs {
			visit := seasonVisit{v.Day, v.Seen.Stop, v.Seen.Total, v.Seen.Verdict.String()}
			field.Visits = append(field.Visits, visit)
			rows = append(rows, row{field.Field, visit})
		}
		j.Fields = append(j.Fields, field)
		fmt.Fprintf(&strips, "%3d  %s\n", i+1, r.strip(vs))
	}
	strips.WriteString("     " + weeks(r.over.LastDay))
	d := &report.Document{}
	d.Heading(fmt.Sprintf("%s through a season%s", report.Count(n, "field", "fields"), say.StageTitle(r.s)))
	d.Para("%s %s", r.kind(), say.VisitsSentence([]*plans.StagePlan{r.s}, r.over, nil, nil))
	d.Picture(strips.String())
	d.Para("One line a field, one column a day, | every seventh: o a visit that finds nothing and leaves, * one that finds the pest and leaves, A act: the field is treated, and no longer visited.")
	d.Para("%s of %s treated (simulated, seed %d, standard error %s); exactly, of many such fields %s would be. %s",
		report.Count(r.treated(), "field", "fields"), fmt.Sprint(n), r.seed, report.Percent(j.SE), report.Percent(r.exact.Treated), r.lesson())
	question(d, "%s", r.question())
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: j}
}

// kind says which fields are watched.
func (r seasonResult) kind() string {
	if r.course.Growth > 0 {
		return fmt.Sprintf("Every field starts at %s and grows by r %s a day.", report.Level(r.s.Measure, r.course.Start), report.Constant(r.course.Growth))
	}
	return fmt.Sprintf("Every field stays at %s all season.", report.Level(r.s.Measure, r.course.Start))
}

// lesson says what the season shows.
func (r seasonResult) lesson() string {
	if r.course.Growth > 0 {
		if math.IsInf(r.exact.AfterUpper.Day, 1) {
			return "The upper bound is not reached in the season."
		}
		return fmt.Sprintf("The upper bound is passed on day %s; the treatment comes %s days after it on average, 0 where before.",
			report.Fixed(r.exact.AfterUpper.Day, 1), report.Number(r.exact.AfterUpper.Expected(), 2))
	}
	one := r.s.EvaluateIn(r.course.Start, r.s.Clumped(r.course.Start).Population()).Act
	text := fmt.Sprintf("One visit says act in %s of such fields, and a field has %s visits on average.", say.Chance(one), report.Number(r.exact.Visits, 2))
	if r.course.Start <= r.s.Lower {
		text += " None of them needs a treatment: small risks of a visit add up over a season."
	}
	return text
}

// question is what the reader may answer.
func (r seasonResult) question() string {
	if r.course.Growth > 0 {
		return "which of the fields was treated last, and what did its visits before see?"
	}
	return "one visit seldom says act in such a field. Why are so many of the fields treated all the same, and what would you change?"
}

// strip draws a field's season in letters.
func (r seasonResult) strip(vs []season.Visited) string {
	line := []rune(strings.Repeat(".", r.over.LastDay+1))
	for _, v := range vs {
		switch {
		case v.Seen.Verdict == rule.Act:
			line[v.Day] = 'A'
		case v.Seen.Total > 0:
			line[v.Day] = '*'
		default:
			line[v.Day] = 'o'
		}
	}
	if acted(vs) {
		line = line[:vs[len(vs)-1].Day+1]
	}
	return string(line)
}

// weeks marks every seventh day.
func weeks(last int) string {
	return strings.TrimRight(strings.Repeat("|      ", last/7+1), " ")
}

func (r seasonResult) picture() (figure.Picture, error) {
	p := figure.Strips{
		Title: say.PictureTitle(fmt.Sprintf("%d fields through a season", len(r.drawn)), r.s.About) + say.InStage(r.s),
		Note: fmt.Sprintf("%s Simulated, seed %d. Ring: a visit that finds nothing and leaves; disc: one that finds the pest and leaves; square: act, the field is treated and no longer visited. %s of the fields are treated; exactly, of many such fields %s would be.",
			r.kind(), r.seed, fmt.Sprint(r.treated()), report.Percent(r.exact.Treated)),
		Head: "Visits of each field", DayLabel: "day of the season", LastDay: r.over.LastDay,
	}
	for _, vs := range r.drawn {
		var line []figure.StripVisit
		for _, v := range vs {
			line = append(line, figure.StripVisit{Day: v.Day, Found: v.Seen.Total > 0, Act: v.Seen.Verdict == rule.Act})
		}
		p.Fields = append(p.Fields, line)
	}
	if r.course.Growth > 0 {
		for _, m := range []figure.Mark{{Level: r.exact.AfterThreshold.Day, Name: "at the threshold"}, {Level: r.exact.AfterUpper.Day, Name: "at the upper bound"}} {
			if m.Level <= float64(r.over.LastDay) {
				p.Marks = append(p.Marks, m)
			}
		}
	}
	return p.Picture()
}
