package designing

import (
	"encoding/json"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/precision"
)

// precisionFlags ask design for an estimate in place of a verdict.
type precisionFlags struct {
	precision  *shell.Option[float64]
	as         *shell.Option[string]
	confidence *shell.Option[float64]
	at         *shell.Option[[]string]
}

func newPrecisionFlags() *precisionFlags {
	return &precisionFlags{
		precision: shell.ShareFlag("precision", "`SHARE` walk until the estimate is as precise as that, relative to itself, instead of until a verdict", 1),
		as: shell.ChoiceFlag("precision-as", "`WORD` what the precision is of: half the confidence interval, or one standard error",
			string(precision.HalfWidth), string(precision.StandardError)).WithDefault(string(precision.HalfWidth)),
		confidence: shell.ConfidenceFlag(),
		at:         shell.NewOption("at", "`LEVELS` with --precision: where to say what an estimate takes", shell.ParseList).WithoutValue("the protocol's bounds, or usual levels"),
	}
}

func (f *precisionFlags) flags() []cli.Flag {
	return []cli.Flag{f.precision, f.as, f.confidence, f.at}
}

// asked reports whether a precision is asked for, or an error where flags that
// need it stand alone.
func (f *precisionFlags) asked() (bool, error) {
	if f.precision.Set {
		return true, nil
	}
	return false, shell.NoneOf("goes with --precision", f.as, f.confidence, f.at)
}

// notForPrecision refuses flags of design that an estimate has no use for.
func notForPrecision(c *cli.Context, s *shell.Situation, others ...shell.AnOption) error {
	if err := shell.NoneOf("does not go with --precision: an estimate brings no verdict", append(others, s.Lower, s.Upper, s.LowerMean, s.UpperMean, s.Threshold, s.Needless, s.Missed)...); err != nil {
		return err
	}
	switch {
	case c.Bool("routes"):
		return shell.UsageError("--routes does not go with --precision: an estimate brings no verdict")
	case c.Bool("compare"):
		return shell.UsageError("--compare does not go with --precision: an estimate brings no verdict")
	case s.Auto():
		return shell.UsageError("--plants-per-stop auto does not go with --precision; give a number")
	}
	return nil
}

func designPrecision(e shell.Env, c *cli.Context, s *shell.Situation, f *precisionFlags, stage, out *shell.Option[string], format string) error {
	p, err := precisionProtocol(e, c, s, stage)
	if err != nil {
		return err
	}
	spec, err := f.spec(s, p)
	if err != nil {
		return err
	}
	levels := usualLevels(p, spec.Measure)
	if f.at.Set {
		if levels, err = shell.ParseLevels(f.at.Name, spec.Measure, f.at.Value); err != nil {
			return err
		}
	}
	plan, err := precision.Design(spec, levels...)
	if err != nil {
		return shell.DesignError(err)
	}
	plan.Program = shell.Version
	raw, err := plan.JSON()
	if err != nil {
		return err
	}
	if out.Set {
		if err := shell.WritePlanFile(out.Value, raw); err != nil {
			return err
		}
	}
	output := precisionOutput(plan, out.Value)
	output.JSON = json.RawMessage(raw)
	return report.Write(e.Out, format, output)
}

// precisionProtocol returns the protocol of the command line, or one without
// thresholds from the flags.
func precisionProtocol(e shell.Env, c *cli.Context, s *shell.Situation, stage *shell.Option[string]) (plans.Protocol, error) {
	switch c.NArg() {
	case 0:
		p := plans.Protocol{Stages: []plans.Stage{{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.DefaultStop}}}
		s.Override(&p)
		if stage.Set {
			return p, shell.UsageError("--stage goes with a protocol")
		}
		return p, nil
	case 1:
		p, err := shell.ReadProtocol(e, c.Args().First())
		if err != nil {
			return p, err
		}
		s.Override(&p)
		if stage.Set {
			return shell.OnlyStage(p, stage.Value)
		}
		return p, nil
	}
	return plans.Protocol{}, shell.UsageError("design takes one protocol, not %d arguments", c.NArg())
}

// spec states the estimate: for a mean per leaf with the most clumped k, Taylor's
// or Iwao's law, for a share with the most clumped rho.
func (f *precisionFlags) spec(s *shell.Situation, p plans.Protocol) (precision.Spec, error) {
	spec := precision.Spec{
		Title: p.Title, Unit: p.Stages[0].Unit, Stop: p.Stages[0].Stop,
		Precision: f.precision.Value, As: precision.As(f.as.Value), Confidence: f.confidence.Value,
	}
	var err error
	if spec.Measure, err = f.measure(s, p); err != nil {
		return spec, err
	}
	if err := shell.Exclusive(s.K, s.Taylor, s.Iwao); err != nil {
		return spec, err
	}
	law, ok := p.Stages[0].Clumping.Law(spec.Measure)
	switch {
	case !ok && spec.Measure == plans.ShareInfested:
		return spec, shell.UsageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	case !ok:
		return spec, shell.UsageHint("give one, such as --k 0.8", "--k, --taylor and --iwao are missing")
	}
	if s.CountRho.Set && !law.Counts() {
		return spec, shell.UsageError("--count-rho is for a mean per leaf; --rho says how alike the plants of a stop are")
	}
	spec.SetLaw(law)
	return spec, nil
}

// measure returns what is estimated: what the stages of a protocol are stated in,
// or what the flags on clumping are of.
func (f *precisionFlags) measure(s *shell.Situation, p plans.Protocol) (plans.Measure, error) {
	if p.Stages[0].Measure != "" {
		m := p.Stages[0].Measure
		for _, st := range p.Stages {
			if st.Measure != m {
				return m, shell.UsageHint("pick one with --stage", "the stages are stated in shares and in means")
			}
		}
		return m, nil
	}
	counts := s.K.Set || s.Taylor.Set || s.Iwao.Set
	switch {
	case counts && s.Rho.Set:
		return "", shell.UsageError("--rho is for the share infested, --k, --taylor and --iwao for a mean per leaf; give one kind")
	case counts:
		return plans.MeanPerLeaf, nil
	case s.Rho.Set:
		return plans.ShareInfested, nil
	}
	return "", shell.UsageHint("give --rho for the share infested, or one of --k, --taylor and --iwao for a mean per leaf", "--precision needs to know how the pest varies")
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
			if !slices.Contains(levels, x) {
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

func precisionOutput(p *precision.Plan, file string) report.Output {
	d := &report.Document{}
	d.Heading("Precision plan" + say.Titled(plans.About{Title: p.Title}))
	d.Para("%s", say.PrecisionSentence(p))
	d.Para("%s", say.EstimateWalk(plans.Stage{Measure: p.Measure, Unit: p.Unit, Stop: p.Stop}))
	d.Para("%s", say.LawSentence(p))
	d.Table(say.PrecisionTable(p))
	if len(p.Effort) > 0 {
		d.Table(say.PrecisionEffortTable(p))
	}
	if file != "" {
		d.Para("Plan written to %s. After each stop ask: `stopwise check %s COUNT...`", file, file)
	}
	d.Para("An estimate is no decision: compare it with the local threshold, or make a plan for verdicts.")
	return report.Output{Doc: d, Records: report.RecordsOf(p.Rows())}
}

type precisionTableJSON struct {
	report.Envelope
	Rows []precision.Row `json:"rows"`
}

// precisionTableOutput is table for a precision plan.
func precisionTableOutput(p *precision.Plan) report.Output {
	out := precisionOutput(p, "")
	d := &report.Document{}
	d.Heading("Stop numbers" + say.Titled(plans.About{Title: p.Title}))
	d.Para("%s", say.PrecisionSentence(p))
	d.Table(say.PrecisionTable(p))
	out.Doc = d
	out.JSON = precisionTableJSON{report.Envelope{Kind: "stopwise precision table", Version: 1}, p.Rows()}
	return out
}
