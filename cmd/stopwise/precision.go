package main

import (
	"encoding/json"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// precisionFlags ask design for an estimate in place of a verdict.
type precisionFlags struct {
	precision  *option[float64]
	as         *option[string]
	confidence *option[float64]
	at         *option[[]string]
}

func newPrecisionFlags() *precisionFlags {
	return &precisionFlags{
		precision: shareFlag("precision", "`SHARE` walk until the estimate is as precise as that, relative to itself, instead of until a verdict", 1),
		as: choiceFlag("precision-as", "`WORD` what the precision is of: half the confidence interval, or one standard error",
			string(plans.HalfWidth), string(plans.StandardError)).withDefault(string(plans.HalfWidth)),
		confidence: confidenceFlag(),
		at:         newOption("at", "`LEVELS` with --precision: where to say what an estimate takes", parseList).withoutValue("the protocol's bounds, or usual levels"),
	}
}

func (f *precisionFlags) flags() []cli.Flag {
	return []cli.Flag{f.precision, f.as, f.confidence, f.at}
}

// asked reports whether a precision is asked for, or an error where flags that
// need it stand alone.
func (f *precisionFlags) asked() (bool, error) {
	for _, o := range []anOption{f.as, f.confidence, f.at} {
		if name, _, set := o.given(); set && !f.precision.set {
			return false, usageError("%s goes with --precision", name)
		}
	}
	return f.precision.set, nil
}

// notForPrecision refuses flags of design that an estimate has no use for.
func notForPrecision(c *cli.Context, s *situation, others ...anOption) error {
	for _, o := range append(others, s.lower, s.upper, s.lowerMean, s.upperMean, s.needless, s.missed) {
		if name, _, set := o.given(); set {
			return usageError("%s does not go with --precision: an estimate brings no verdict", name)
		}
	}
	switch {
	case c.Bool("compare"):
		return usageError("--compare does not go with --precision: an estimate brings no verdict")
	case s.auto():
		return usageError("--plants-per-stop auto does not go with --precision; give a number")
	}
	return nil
}

func designPrecision(e env, c *cli.Context, s *situation, f *precisionFlags, stage, out *option[string], format string) error {
	p, err := precisionProtocol(e, c, s, stage)
	if err != nil {
		return err
	}
	spec, err := f.spec(s, p)
	if err != nil {
		return err
	}
	levels := usualLevels(p, spec.Measure)
	if f.at.set {
		if levels, err = parseLevels(spec.Measure, f.at.value); err != nil {
			return err
		}
	}
	plan, err := plans.DesignPrecision(spec, levels...)
	if err != nil {
		return designError(err)
	}
	plan.Program = version
	raw, err := plan.JSON()
	if err != nil {
		return err
	}
	if out.set {
		if err := writePlanFile(out.value, raw); err != nil {
			return err
		}
	}
	output := precisionOutput(plan, out.value)
	output.JSON = json.RawMessage(raw)
	return report.Write(e.Out, format, output)
}

// precisionProtocol returns the protocol of the command line, or one without
// thresholds from the flags.
func precisionProtocol(e env, c *cli.Context, s *situation, stage *option[string]) (plans.Protocol, error) {
	switch c.NArg() {
	case 0:
		p := plans.Protocol{Stages: []plans.Stage{{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.DefaultStop}}}
		s.override(&p)
		if stage.set {
			return p, usageError("--stage goes with a protocol")
		}
		return p, nil
	case 1:
		p, err := readProtocol(e, c.Args().First())
		if err != nil {
			return p, err
		}
		s.override(&p)
		if stage.set {
			return onlyStage(p, stage.value)
		}
		return p, nil
	}
	return plans.Protocol{}, usageError("design takes one protocol, not %d arguments", c.NArg())
}

// spec states the estimate: for a mean per leaf with the most clumped k, Taylor's
// or Iwao's law, for a share with the most clumped rho.
func (f *precisionFlags) spec(s *situation, p plans.Protocol) (plans.PrecisionSpec, error) {
	spec := plans.PrecisionSpec{
		Title: p.Title, Unit: p.Stages[0].Unit, Stop: p.Stages[0].Stop,
		Precision: f.precision.value, As: plans.PrecisionAs(f.as.value), Confidence: f.confidence.value,
	}
	var err error
	if spec.Measure, err = f.measure(s, p); err != nil {
		return spec, err
	}
	if err := exclusive(s.k, s.taylor, s.iwao); err != nil {
		return spec, err
	}
	law, ok := p.Stages[0].Clumping.Law(spec.Measure)
	switch {
	case !ok && spec.Measure == plans.ShareInfested:
		return spec, usageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	case !ok:
		return spec, usageHint("give one, such as --k 0.8", "--k, --taylor and --iwao are missing")
	}
	spec.SetLaw(law)
	return spec, nil
}

// measure returns what is estimated: what the stages of a protocol are stated in,
// or what the flags on clumping are of.
func (f *precisionFlags) measure(s *situation, p plans.Protocol) (plans.Measure, error) {
	if p.Stages[0].Measure != "" {
		m := p.Stages[0].Measure
		for _, st := range p.Stages {
			if st.Measure != m {
				return m, usageHint("pick one with --stage", "the stages are stated in shares and in means")
			}
		}
		return m, nil
	}
	counts := s.k.set || s.taylor.set || s.iwao.set
	switch {
	case counts && s.rho.set:
		return "", usageError("--rho is for the share infested, --k, --taylor and --iwao for a mean per leaf; give one kind")
	case counts:
		return plans.MeanPerLeaf, nil
	case s.rho.set:
		return plans.ShareInfested, nil
	}
	return "", usageHint("give --rho for the share infested, or one of --k, --taylor and --iwao for a mean per leaf", "--precision needs to know how the pest varies")
}

// usualLevels returns the bounds and thresholds of a protocol, or levels for a
// first look.
func usualLevels(p plans.Protocol, m plans.Measure) []float64 {
	var levels []float64
	for _, s := range p.Stages {
		if s.Measure == "" { // from flags, which state no bounds
			break
		}
		for _, x := range []float64{s.Lower, s.Threshold, s.Upper} {
			seen := false
			for _, y := range levels {
				seen = seen || x == y
			}
			if !seen {
				levels = append(levels, x)
			}
		}
	}
	switch {
	case levels != nil:
		return levels
	case m == plans.ShareInfested:
		return []float64{0.05, 0.1, 0.2, 0.3, 0.5}
	}
	return []float64{1, 5, 10, 25, 50, 100}
}

// readAnyPlan reads a plan for verdicts or one for an estimate: one of the two is
// returned.
func readAnyPlan(e env, file string) (*plans.Plan, *plans.PrecisionPlan, error) {
	text, err := readInput(e, file)
	if err != nil {
		return nil, nil, err
	}
	if plans.IsPrecisionPlanFile(text) {
		p, err := plans.ReadPrecisionPlan(text)
		if err != nil {
			return nil, nil, inputError(file, err)
		}
		return nil, p, nil
	}
	p, err := plans.ReadPlan(text)
	if err != nil {
		return nil, nil, inputError(file, err)
	}
	return p, nil, nil
}

func precisionOutput(p *plans.PrecisionPlan, file string) report.Output {
	records := report.NewRecords("stop", "plants", "units", "stop_at", "level")
	for _, r := range p.Rows() {
		records.Add(r.Stop, r.Plants, r.Units, r.StopAt, r.Level)
	}
	d := &report.Document{}
	d.Heading("Precision plan" + titled(plans.About{Title: p.Title}))
	d.Para("%s", precisionSentence(p))
	d.Para("%s", walkSentence(plans.Stage{Measure: p.Measure, Unit: p.Unit, Stop: p.Stop}))
	d.Para("%s", lawSentence(p))
	d.Table(precisionTable(p))
	if len(p.Effort) > 0 {
		d.Table(precisionEffortTable(p))
	}
	if file != "" {
		d.Para("Plan written to %s. After each stop ask: `stopwise check %s COUNT...`", file, file)
	}
	d.Para("An estimate is no decision: compare it with the local threshold, or make a plan for verdicts.")
	return report.Output{Doc: d, Records: records}
}

func precisionSentence(p *plans.PrecisionPlan) string {
	what := "the share of plants infested"
	if p.Measure == plans.MeanPerLeaf {
		what = "the mean per leaf"
	}
	if p.As == plans.StandardError {
		return fmt.Sprintf("Walk until %s is known with a standard error of %s of itself (plus or minus %s with %s confidence).",
			what, report.Share(p.Precision), report.Percent(p.Half()), report.Share(p.Confidence))
	}
	return fmt.Sprintf("Walk until %s is known to plus or minus %s of itself with %s confidence (a standard error of %s of itself).",
		what, report.Share(p.Precision), report.Share(p.Confidence), report.Percent(p.D()))
}

func lawSentence(p *plans.PrecisionPlan) string {
	switch {
	case p.Measure == plans.ShareInfested:
		return fmt.Sprintf("Stop line for a share (Kuno 1986), plants of a stop alike with rho %s.", report.Number(*p.Rho, 2))
	case p.Taylor != nil:
		return fmt.Sprintf("Stop line of Green (1970) from Taylor's law, variance = %.4g mean^%.4g over the leaves of a field. Leaves count as drawn one by one from the field: where those of a stop are alike, more stops are needed.", p.Taylor.A, p.Taylor.B)
	case p.Iwao != nil:
		return fmt.Sprintf("Stop line of Kuno (1969) from Iwao's law, mean crowding = %.4g + %.4g mean over the leaves of a field. Leaves count as drawn one by one from the field: where those of a stop are alike, more stops are needed.", p.Iwao.A, p.Iwao.B)
	}
	return fmt.Sprintf("Stop line of Kuno (1969) from a negative binomial with k %.4g over the leaves of a field. Leaves count as drawn one by one from the field: where those of a stop are alike, more stops are needed.", *p.K)
}

func precisionTable(p *plans.PrecisionPlan) *report.Table {
	unit, level := "plants", "share then"
	if p.Measure == plans.MeanPerLeaf {
		unit, level = "leaves", "mean then"
	}
	t := &report.Table{
		Caption: "Stop walking when the running total of " + counted(p.Measure) + " is at or above the number; never: no total is enough yet. At the last stop the estimate is as precise as it then is.",
		Columns: []report.Column{
			{Head: "stop", Key: "stop", Right: true}, {Head: unit, Key: "units", Right: true},
			{Head: "enough at or above", Key: "stop_at", Right: true}, {Head: level, Key: "level", Right: true},
		}}
	for _, r := range p.Rows() {
		at := ""
		if r.Level != nil {
			at = levelText(p, *r.Level)
		}
		t.Add(fmt.Sprint(r.Stop), fmt.Sprint(r.Units), numberOrNever(r.StopAt), at)
	}
	return t
}

func levelText(p *plans.PrecisionPlan, x float64) string {
	if p.Measure == plans.MeanPerLeaf {
		return report.Number(x, 3) + " per leaf"
	}
	return report.Percent(x)
}

func precisionEffortTable(p *plans.PrecisionPlan) *report.Table {
	t := &report.Table{
		Caption: fmt.Sprintf("What an estimate takes, exact expectations. Known: the stops that would do if the level were known. Falls short: the last stop comes first. Within: the estimate is off by at most %s.", report.Percent(p.Half())),
		Columns: []report.Column{
			{Head: "field at", Key: "level", Right: true}, {Head: "known", Key: "needed_stops", Right: true}, {Head: "stops", Key: "expected_stops", Right: true},
			{Head: "plants", Key: "expected_plants", Right: true}, {Head: "time", Key: "expected_minutes", Right: true},
			{Head: "9 in 10 need at most", Key: "stops_90_percent", Right: true}, {Head: "falls short", Key: "p_short", Right: true}, {Head: "within", Key: "p_inside", Right: true},
		}}
	for _, e := range p.Effort {
		t.Add(report.Level(p.Measure, e.Level), report.Count(e.NeededStops, "stop", "stops"), report.Number(e.Stops, 3), report.Number(e.Plants, 3),
			report.Minutes(e.Minutes), report.Count(e.Within90, "stop", "stops"), report.Percent(e.Short), report.Percent(e.Inside))
	}
	return t
}

type precisionTableJSON struct {
	report.Envelope
	Rows []plans.PrecisionRow `json:"rows"`
}

// printPrecisionTable is table for a precision plan.
func printPrecisionTable(e env, p *plans.PrecisionPlan, format string) error {
	out := precisionOutput(p, "")
	d := &report.Document{}
	d.Heading("Stop numbers" + titled(plans.About{Title: p.Title}))
	d.Para("%s", precisionSentence(p))
	d.Table(precisionTable(p))
	out.Doc = d
	out.JSON = precisionTableJSON{report.Envelope{Kind: "stopwise precision table", Version: 1}, p.Rows()}
	return report.Write(e.Out, format, out)
}

type precisionAnswerJSON struct {
	report.Envelope
	Verdict       string       `json:"verdict"` // stop or continue
	Precise       bool         `json:"precise"`
	Stop          int          `json:"stop"`
	Plants        int          `json:"plants"`
	Infested      int          `json:"infested"` // insects for a mean per leaf
	StopAt        *int         `json:"stop_at"`
	DoneAt        *int         `json:"done_at_stop"`
	Next          *int         `json:"next_at_least"`
	Estimate      float64      `json:"estimate"`
	RelativeError *float64     `json:"relative_standard_error"`
	Half          *float64     `json:"relative_half_width"`
	Interval      openInterval `json:"interval"`
}

// openInterval may have no upper end.
type openInterval struct {
	Lower      float64  `json:"lower"`
	Upper      *float64 `json:"upper"`
	Confidence float64  `json:"confidence"`
}

// checkPrecision is check for a precision plan.
func checkPrecision(e env, p *plans.PrecisionPlan, counts []plans.Count, format string) error {
	a, err := p.Check(counts)
	if err != nil {
		return usageError("%v", err)
	}
	verdict := "continue"
	if a.Done {
		verdict = "stop"
	}
	j := precisionAnswerJSON{
		Envelope: report.Envelope{Kind: "stopwise precision answer", Version: 1}, Verdict: verdict, Precise: a.Precise,
		Stop: a.Stop, Plants: a.Plants, Infested: a.Total, StopAt: orNull(a.StopAt, plans.NeverAct), DoneAt: orNull(a.DoneAt, 0), Next: orNull(a.Next, plans.NeverAct),
		Estimate: a.Estimate, RelativeError: finiteOrNull(a.RelativeError), Half: finiteOrNull(a.Half),
		Interval: openInterval{a.Interval.Lower, finiteOrNull(a.Interval.Upper), a.Interval.Confidence},
	}
	records := report.NewRecords("verdict", "precise", "stop", "plants", "infested", "stop_at", "estimate", "relative_half_width", "interval_lower", "interval_upper")
	records.Add(verdict, a.Precise, a.Stop, a.Plants, a.Total, j.StopAt, a.Estimate, j.Half, a.Interval.Lower, j.Interval.Upper)
	d := &report.Document{}
	precisionAnswer(d, p, a)
	return report.Write(e.Out, format, report.Output{Doc: d, Records: records, JSON: j})
}

func finiteOrNull(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func precisionAnswer(d *report.Document, p *plans.PrecisionPlan, a plans.PrecisionAnswer) {
	seen := fmt.Sprintf("%d infested of %s at %s", a.Total, report.Count(a.Plants, "plant", "plants"), report.Count(a.Stop, "stop", "stops"))
	what, estimate := "the share infested is", report.Percent(a.Estimate)
	if p.Measure == plans.MeanPerLeaf {
		seen = fmt.Sprintf("%s on %s at %s", report.Count(a.Total, "insect", "insects"), report.Count(a.Units, "leaf", "leaves"), report.Count(a.Stop, "stop", "stops"))
		what, estimate = "the mean is", report.Number(a.Estimate, 2)+" per leaf"
	}
	reached, asked := "plus or minus "+report.Percent(a.Half), report.Share(p.Precision)
	if p.As == plans.StandardError {
		reached = "with a standard error of " + report.Percent(a.RelativeError) + " of it"
	}
	if a.Total == 0 {
		estimate, reached = "0", "with no precision to speak of"
	}
	switch {
	case a.Done && a.Precise:
		d.Para("STOP: %s %s, %s. %s.", what, estimate, reached, seen)
	case a.Done && a.DoneAt == p.Stop.Maximum:
		d.Para("STOP, it is the last stop: %s %s, %s, not %s as was asked for. %s.", what, estimate, reached, asked, seen)
	case a.Done:
		d.Para("STOP, as at stop %d, where it was precise enough: by now %s %s, %s. %s.", a.DoneAt, what, estimate, reached, seen)
	default:
		why := "not yet " + asked
		if a.Stop < p.Stop.Minimum {
			why = fmt.Sprintf("and no estimate counts before stop %d", p.Stop.Minimum)
		}
		d.Para("WALK ON to stop %d: so far %s %s, %s, %s. %s.", a.Stop+1, what, estimate, reached, why, seen)
		d.Para("%s", precisionNext(p, a))
	}
	upper := "without an upper end"
	if !math.IsInf(a.Interval.Upper, 1) {
		upper = "to " + levelText(p, a.Interval.Upper)
	}
	d.Para("%s interval: %s %s.", report.Share(a.Interval.Confidence), levelText(p, a.Interval.Lower), upper)
}

func precisionNext(p *plans.PrecisionPlan, a plans.PrecisionAnswer) string {
	at := fmt.Sprintf("At stop %d (%s)", a.Stop+1, report.Count(p.Stop.Plants, "plant", "plants"))
	switch {
	case a.Stop+1 == p.Stop.Maximum && a.Next == plans.NeverAct:
		return at + " the walk ends, precise or not; no count there is enough."
	case a.Next == plans.NeverAct:
		return at + " no count is enough yet."
	case a.Next == 0:
		return at + " any count is enough."
	}
	return fmt.Sprintf("%s %d %s or more are enough.", at, a.Next, counted(p.Measure))
}
