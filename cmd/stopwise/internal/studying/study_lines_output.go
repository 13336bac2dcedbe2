package studying

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/validate"
)

// A linesResult is what many walks on a plan came to by its count, and the exact
// values.
type linesResult struct {
	s     *plans.StagePlan
	world plans.World
	seen  validate.Staircase
	exact plans.Evaluation
	seed  uint64
}

func (r linesResult) shouldAct() bool { return r.world.Level >= r.s.Threshold }

// right returns the right verdict: "either" between the bounds.
func (r linesResult) right() string {
	if !r.judged() {
		return "either"
	}
	return rightVerdict(r.shouldAct())
}

// judged reports whether a verdict can be wrong: at or beyond one of the bounds.
func (r linesResult) judged() bool {
	return validate.ZoneOf(r.s, r.world.Level) != validate.Between
}

// Wrong returns the simulated and the exact chance of the wrong verdict; NaN where
// either may come.
func (r linesResult) Wrong() (validate.Chance, float64) {
	if !r.judged() {
		return validate.Exact(math.NaN()), math.NaN()
	}
	if r.shouldAct() {
		return r.seen.Visits.LeaveChance(), r.exact.Leave
	}
	return r.seen.Visits.ActChance(), r.exact.Act
}

type linesJSON struct {
	report.Envelope
	Stage      string      `json:"stage"`
	Measure    string      `json:"measure"`
	Level      float64     `json:"level"`
	Rho        *float64    `json:"rho,omitempty"`
	K          *float64    `json:"k,omitempty"`
	Right      string      `json:"right_verdict"`
	Walks      int         `json:"walks"`
	Seed       uint64      `json:"seed"`
	Act        float64     `json:"act"`
	ActSE      float64     `json:"act_se"`
	ActExact   float64     `json:"p_act"`
	Wrong      *float64    `json:"wrong"` // null where either verdict may come
	WrongExact *float64    `json:"wrong_exact"`
	Stops      float64     `json:"mean_stops"`
	StopsSE    float64     `json:"mean_stops_se"`
	StopsExact float64     `json:"expected_stops"`
	Ends       []linesStop `json:"by_stop"`
	// CountAlone says that an act needs a sign too, which is not looked at.
	CountAlone bool `json:"count_alone,omitempty"`
}

type linesStop struct {
	Stop    int     `json:"stop"`
	Leave   int     `json:"ended_with_leave"`
	PLeave  float64 `json:"p_leave"`
	Act     int     `json:"ended_with_act"`
	PAct    float64 `json:"p_act"`
	Walking int     `json:"still_walking"`
}

func (r linesResult) output() report.Output {
	v := r.seen.Visits
	wrong, wrongExact := r.Wrong()
	j := linesJSON{
		CountAlone: r.s.Sign != nil,
		Envelope:   report.Envelope{Kind: "stopwise study lines", Version: 1},
		Stage:      r.s.Name, Measure: string(r.s.Measure), Level: r.world.Level, Right: r.right(), Walks: v.N, Seed: r.seed,
		Act: v.ActChance().Value, ActSE: v.ActChance().SE(), ActExact: r.exact.Act, Wrong: report.Finite(wrong.Value), WrongExact: report.Finite(wrongExact),
		Stops: v.MeanStops().Value, StopsSE: v.MeanStops().SE, StopsExact: r.exact.ExpectedStops, Ends: r.byStop(),
	}
	if r.s.Measure == plans.MeanPerLeaf {
		j.K = report.Finite(r.world.Clump)
	} else {
		j.Rho = &r.world.Clump
	}
	return report.Output{Doc: r.document(), Records: report.RecordsOf(j.Ends), JSON: j}
}

func (r linesResult) byStop() []linesStop {
	var out []linesStop
	walking := r.seen.Visits.N
	for i, e := range r.seen.Ended {
		walking -= e.Leave + e.Act
		o := r.exact.Stops[i]
		out = append(out, linesStop{i + 1, e.Leave, o.Leave, e.Act, o.Act, walking})
	}
	return out
}

func (r linesResult) document() *report.Document {
	v := r.seen.Visits
	d := &report.Document{}
	d.Heading(fmt.Sprintf("%s through the decision table%s", report.Count(v.N, "walk", "walks"), say.StageTitle(r.s)))
	level := func(x float64) string { return report.Level(r.s.Measure, x) }
	right := fmt.Sprintf("so the right verdict is %s: the bounds are %s and %s", r.right(), level(r.s.Lower), level(r.s.Upper))
	if !r.judged() {
		right = fmt.Sprintf("between the bounds %s and %s: either verdict may come", level(r.s.Lower), level(r.s.Upper))
	}
	d.Para("All fields are at %s %s (%s), %s. The table was %s.",
		level(r.world.Level), say.English().Measured(r.s.Stage), r.clump(), right, say.TableFrom(r.s))
	if r.s.Sign != nil {
		d.Para("Walks are followed by the count alone: the sign (%s), which an act needs too, is not looked at here.", r.s.Sign.Text)
	}
	d.Drawing(r.picture)
	d.Para("Running total of %s after each stop. Between the numbers, where one walks on: ░ up to 1%% of the walks, ▒ up to 3%%, ▓ up to 10%%, █ more. Where walks end: l for leave, a for act, one letter up to 1%% of the walks, two up to 3%%, three for more%s.", say.English().Added(r.s), r.capitals())
	d.Table(r.stopTable())
	d.Table(r.summaryTable())
	d.Para("%s", r.lesson())
	if r.judged() {
		question(d, "at which stops do most of the walks that err end, and what had they seen by then?")
	} else {
		question(d, "either verdict may come here. Why do some walks go on so long, and which would you rather have ended early?")
	}
	return d
}

func (r linesResult) capitals() string {
	if !r.judged() {
		return ""
	}
	return "; capitals mark the wrong verdict"
}

// clump names the clumping that the walks were made with.
func (r linesResult) clump() string {
	return report.Clumping(plans.ClumpValue{Counts: r.world.Counts, Value: r.world.Clump})
}

func (r linesResult) stopTable() *report.Table {
	t := report.NewTable(fmt.Sprintf("Where walks end: simulated (seed %d) beside exact.", r.seed), ">stop", ">leave", ">exact", ">act", ">exact",
		">still walking")
	n := float64(r.seen.Visits.N)
	for _, e := range r.byStop() {
		if e.PLeave+e.PAct < 0.0001 && e.Leave+e.Act == 0 {
			continue // no walk, and next to none expected
		}
		t.Add(fmt.Sprint(e.Stop), report.Percent(float64(e.Leave)/n), report.Percent(e.PLeave),
			report.Percent(float64(e.Act)/n), report.Percent(e.PAct), report.Percent(float64(e.Walking)/n))
	}
	return t
}

func (r linesResult) summaryTable() *report.Table {
	t := report.NewTable("All walks; ± is one standard error.", "", ">simulated", ">exact")
	v := r.seen.Visits
	wrong, wrongExact := r.Wrong()
	stops := v.MeanStops()
	t.Add("act", say.ChanceText(v.ActChance()), report.Percent(r.exact.Act))
	if r.judged() {
		t.Add("wrong verdict", say.ChanceText(wrong), report.Percent(wrongExact))
	}
	t.Add("stops", report.Number(stops.Value, 3)+" ± "+report.Number(stops.SE, 2), report.Number(r.exact.ExpectedStops, 3))
	return t
}

func (r linesResult) lesson() string {
	s := fmt.Sprintf("Half of the walks end by stop %d, nine in ten by stop %d (exact).", r.exact.StopsWithin(0.5), r.exact.StopsWithin(0.9))
	_, wrong := r.Wrong()
	if !(wrong > 0) {
		return s
	}
	sum := 0.0
	for j, o := range r.exact.Stops {
		if r.shouldAct() {
			sum += o.Leave
		} else {
			sum += o.Act
		}
		if sum >= wrong/2 {
			s += fmt.Sprintf(" Of the walks that err, half do so by stop %d: a walk errs when its first stops happen to mislead.", j+1)
			break
		}
	}
	return s
}

// The picture has about so many rows, and at most so many stops side by side, fewer where
// they do not fit.
const (
	stairRows    = 24
	stairColumns = 20
)

// picture draws the running totals: stops to the right, totals upwards.
func (r linesResult) picture(width int) string {
	all := r.shownStops(stairColumns)
	top := r.highest(all)
	stops := r.shownStops(max(1, min(stairColumns, (width-len(fmt.Sprint(top))-2)/4)))
	height := max(1, int(math.Ceil(float64(top+1)/stairRows)))
	margin := len(fmt.Sprint(top))
	var lines []string
	for low := top / height * height; low >= 0; low -= height {
		line := fmt.Sprintf("%*d ┤", margin, low)
		for _, j := range stops {
			line += " " + r.cell(j, low, low+height)
		}
		lines = append(lines, line)
	}
	axis, names := strings.Repeat(" ", margin)+" └", strings.Repeat(" ", margin+2)
	for _, j := range stops {
		axis += "────"
		names += fmt.Sprintf("%3d ", j)
	}
	return strings.Join(append(lines, axis, names, strings.Repeat(" ", margin+3)+"after stop"), "\n")
}

// shownStops returns the stops that some walk reached, thinned out evenly where
// they are many.
func (r linesResult) shownStops(most int) []int {
	last := 1
	for _, e := range r.byStop() {
		last = e.Stop
		if e.Walking == 0 {
			break
		}
	}
	step := (last + most - 1) / most
	var out []int
	for j := last; j >= 1; j -= step {
		out = append([]int{j}, out...)
	}
	return out
}

// highest returns the largest total that is drawn.
func (r linesResult) highest(stops []int) int {
	top := 0
	for _, j := range stops {
		for x, n := range r.seen.At[j-1] {
			if n > 0 {
				top = max(top, x)
			}
		}
	}
	return top
}

// cell draws the walks whose total after stop j lies from low to below high.
func (r linesResult) cell(j, low, high int) string {
	var count [3]int
	zone := r.s.Table.Verdict(j, (low+high-1)/2)
	for x := low; x < min(high, len(r.seen.At[j-1])); x++ {
		count[r.s.Table.Verdict(j, x)] += r.seen.At[j-1][x]
	}
	most := zone
	for v := range count {
		if count[v] > count[most] {
			most = plans.Verdict(v)
		}
	}
	share := float64(count[most]) / float64(r.seen.Visits.N)
	if most == plans.Continue {
		if r.s.Measure == plans.ShareInfested && low > j*r.s.Worth.Top(r.s.Table.Units) {
			return "   " // more than the stops can count
		}
		return shade(share)
	}
	letter := map[plans.Verdict]string{plans.Leave: "l", plans.Act: "a"}[most]
	if r.judged() && (most == plans.Act) != r.shouldAct() {
		letter = strings.ToUpper(letter)
	}
	return fmt.Sprintf("%-3s", strings.Repeat(letter, strength(share, 3)))
}

func shade(share float64) string {
	return strings.Repeat([]string{"·", "░", "▒", "▓", "█"}[strength(share, 4)], 3)
}

// strength returns 0 for none, 1 up to 1%, 2 up to 3%, 3 up to 10% and 4 for more,
// or top where that is less.
func strength(share float64, top int) int {
	for i, limit := range []float64{0, 0.01, 0.03, 0.1} {
		if share <= limit {
			return min(i, top)
		}
	}
	return min(4, top)
}
