package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// situation holds the flags that state a design problem, in place of a protocol
// or beside one.
type situation struct {
	lower, upper, lowerMean, upperMean *option[float64]
	needless, missed                   *option[float64]
	plants                             *option[plantsChoice]
	minStops, maxStops                 *option[int]
	rho, k                             *option[plans.Range]
	taylor                             *option[plans.Taylor]
	iwao                               *option[plans.Iwao]
	leaves                             *option[int]
	walk, plant                        *option[float64]
	withoutLaw                         bool // means per leaf need no k: something else says how they vary
}

// plantsChoice is a number of plants per stop, or 0 for auto.
type plantsChoice int

func newSituation() *situation {
	return &situation{
		lower: lowerFlag(), upper: upperFlag(), lowerMean: lowerMeanFlag(), upperMean: upperMeanFlag(),
		needless: needlessRiskFlag(), missed: missedRiskFlag(),
		plants: newOption("plants-per-stop", "`COUNT` plants examined at each stop, or auto for the number at which visits take the fewest minutes",
			func(s string) (plantsChoice, error) {
				if strings.TrimSpace(s) == "auto" {
					return 0, nil
				}
				n, err := whole(1, 10000)(s)
				if err != nil {
					err = fmt.Errorf("%w, or auto", err)
				}
				return plantsChoice(n), err
			}).withoutValue("20"),
		minStops: minStopsFlag().withoutValue("4"), maxStops: maxStopsFlag().withoutValue("20"),
		rho: rhoFlag(), k: kFlag(), taylor: taylorFlag(), iwao: iwaoFlag(), leaves: leavesFlag(),
		walk: walkMinutesFlag().withoutValue("3"), plant: plantMinutesFlag().withoutValue("0.25"),
	}
}

func (s *situation) flags() []cli.Flag {
	return []cli.Flag{s.lower, s.upper, s.lowerMean, s.upperMean, s.needless, s.missed, s.plants,
		s.minStops, s.maxStops, s.rho, s.k, s.taylor, s.iwao, s.leaves, s.walk, s.plant}
}

// auto reports whether the plants per stop are to be searched for.
func (s *situation) auto() bool { return s.plants.set && s.plants.value == 0 }

// protocol returns the protocol that the flags alone state: one unnamed stage.
func (s *situation) protocol() (plans.Protocol, error) {
	var p plans.Protocol
	st := plans.Stage{Measure: plans.ShareInfested, Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.DefaultStop}
	low, high := s.lower, s.upper
	if s.lowerMean.set || s.upperMean.set {
		st.Measure, low, high = plans.MeanPerLeaf, s.lowerMean, s.upperMean
		if err := errors.Join(exclusive(s.lower, s.lowerMean), exclusive(s.upper, s.upperMean)); err != nil {
			return p, err
		}
	}
	if err := required(low, high, s.needless, s.missed); err != nil {
		return p, err
	}
	if err := below(low, high); err != nil {
		return p, err
	}
	st.Lower, st.Upper = low.value, high.value
	st.Threshold = plans.Middle(st.Lower, st.Upper)
	st.NeedlessRisk, st.MissedRisk = s.needless.value, s.missed.value
	p.Stages = []plans.Stage{st}
	p.Defaults = []string{"threshold = " + report.Level(st.Measure, st.Threshold) + " (the middle of the bounds)"}
	s.override(&p)
	st = p.Stages[0]
	for _, d := range []struct {
		set  bool
		text string
	}{
		{s.plants.set, "plants per stop = 20"}, {s.minStops.set, "minimum stops = " + strconv.Itoa(st.Stop.Minimum)},
		{s.maxStops.set, "maximum stops = " + strconv.Itoa(st.Stop.Maximum)},
		{s.walk.set, "minutes to walk to a stop = 3"}, {s.plant.set, "minutes per plant = 0.25"},
	} {
		if !d.set {
			p.Defaults = append(p.Defaults, d.text)
		}
	}
	if st.Measure == plans.ShareInfested && st.Clumping.Rho == nil {
		return p, usageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	}
	if s.withoutLaw {
		return p, nil
	}
	if _, ok := st.Clumping.Law(st.Measure); !ok {
		return p, usageHint("give one, such as --k 0.8", "--k, --taylor and --iwao are missing")
	}
	return p, flagErrors(p.Check())
}

// override puts the flags in place of what a protocol says.
func (s *situation) override(p *plans.Protocol) {
	one := len(p.Stages) == 1 && p.Stages[0].Name == ""
	*p = p.Each(func(t *plans.Stage) {
		if s.plants.set && !s.auto() {
			t.Stop.Plants = int(s.plants.value)
		}
		set(s.minStops, &t.Stop.Minimum)
		set(s.maxStops, &t.Stop.Maximum)
		if s.maxStops.set && !s.minStops.set && one {
			t.Stop.Minimum = min(t.Stop.Minimum, t.Stop.Maximum)
		}
		set(s.walk, &t.Stop.WalkMinutes)
		set(s.plant, &t.Stop.PlantMinutes)
		set(s.leaves, &t.Unit.Leaves)
		c := &t.Clumping
		if s.rho.set {
			c.Rho = &s.rho.value
		}
		if s.k.set || s.taylor.set || s.iwao.set {
			*c = c.WithCounts(plans.Law{})
		}
		if s.k.set {
			c.K = &s.k.value
		}
		if s.taylor.set {
			c.Taylor = &s.taylor.value
		}
		if s.iwao.set {
			c.Iwao = &s.iwao.value
		}
	})
}

func set[T any](o *option[T], to *T) {
	if o.set {
		*to = o.value
	}
}

// flagErrors turns faults of a protocol made from flags into faults of usage.
func flagErrors(err error) error {
	var out []error
	for _, e := range leaves(err) {
		out = append(out, usageError("%v", e))
	}
	return errors.Join(out...)
}

// read returns the protocol of the command line: a file with the flags put over
// it, or the flags alone.
func (s *situation) read(e env, c *cli.Context) (plans.Protocol, error) {
	switch c.NArg() {
	case 0:
		return s.protocol()
	case 1:
	default:
		return plans.Protocol{}, usageError("%s takes one protocol, not %d arguments", c.Command.Name, c.NArg())
	}
	for _, o := range []*option[float64]{s.lower, s.upper, s.lowerMean, s.upperMean, s.needless, s.missed} {
		if o.set {
			return plans.Protocol{}, usageError("--%s goes without a protocol; each stage of %s has its own", o.Name, c.Args().First())
		}
	}
	p, err := readProtocol(e, c.Args().First())
	if err != nil {
		return p, err
	}
	s.override(&p)
	return p, flagErrors(p.Check())
}

func designCommand(e env) *cli.Command {
	s := newSituation()
	method := methodFlag()
	weights := newOption("weights", "`A,B,C` how much the stops at the lower bound, the threshold and the upper bound count when a design makes them few",
		parseWeights).withoutValue("1,1,1")
	out := newOption("out", "`FILE` write the plan there, for table, curve and check", func(s string) (string, error) {
		if s == "" {
			return "", errEmpty
		}
		return s, nil
	})
	page := newOption("page", "`FILE` write all tables and pictures there, as one HTML page for review by colleagues; its name ends in .html", func(s string) (string, error) {
		if ext := strings.ToLower(filepath.Ext(s)); ext != ".html" && ext != ".htm" {
			return "", fmt.Errorf("%q is no HTML page; end the name in .html", s)
		}
		return s, nil
	})
	stage, format := stageFlag(), formatFlag()
	precise := newPrecisionFlags()
	fieldMean := newOption("field-mean", "`NUMBER` with --compare: what the rules of the stages would each do in one field with this mean per leaf", positive)
	compare := &cli.BoolFlag{Name: "compare", Usage: "compare the methods in one table instead of making a plan"}
	balance := &cli.BoolFlag{Name: "balance-costs", Usage: "choose both risks of every stage so that the expected loss and the scout's time cost least, by the protocol's costs and late losses, in place of the risks it states"}
	return &cli.Command{
		Name:      "design",
		Usage:     "make a plan with exact risks from a protocol",
		ArgsUsage: "[PROTOCOL.toml]",
		Description: `Turns a protocol into a plan: for each growth stage a table that says after every stop whether to leave the field, to act, or to walk on. The risks printed are exact, clumping included. Without a protocol the flags state one unnamed stage.

$ stopwise design testdata/marrow-vale/protocol.toml --out plan.json
$ stopwise design --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise design testdata/marrow-vale/protocol.toml --page review.html

The method risk-true finds the table with the least walking whose risks hold over the whole clumping range; risk-true-lines the best pair of straight lines that keeps them; fixed the fewest stops without early verdicts; lines takes the textbook lines, whose risks do not hold where plants clump; iwao takes curves around the threshold, which promise no risk. Fewest stops are fewest minutes too, since every stop takes the same time.

With --precision the walk ends not with a verdict but when the estimate is precise enough: of a mean per leaf (--k, --taylor or --iwao), or of the share infested (--rho).

$ stopwise design --precision 25% --taylor 2.5,1.4 --out estimate.json`,
		Flags: append(append(s.flags(), method, weights, stage, out, page, compare, fieldMean, balance, format), precise.flags()...),
		Action: func(c *cli.Context) error {
			if asked, err := precise.asked(); err != nil {
				return err
			} else if asked {
				if err := notForPrecision(c, s, method, weights, page); err != nil {
					return err
				}
				return designPrecision(e, c, s, precise, stage, out, format.value)
			}
			p, err := s.read(e, c)
			if err != nil {
				return err
			}
			if stage.set {
				if p, err = onlyStage(p, stage.value); err != nil {
					return err
				}
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			o := plans.DesignOptions{Method: plans.Method(method.value), Weights: weights.value}
			var trials []plans.PlantsTrial
			if s.auto() {
				var plants int
				if plants, trials, err = searchPlants(ctx, e, p, o); err != nil {
					return designError(err)
				}
				p = p.Each(func(s *plans.Stage) { s.Stop.Plants = plants })
			}
			if fieldMean.set && !c.Bool("compare") {
				return usageError("--field-mean goes with --compare")
			}
			if c.Bool("compare") {
				if out.set {
					return usageError("--compare makes no plan to write; leave --out away")
				}
				if c.Bool("balance-costs") {
					return usageError("--compare and --balance-costs cannot be used together; give one of them")
				}
				if fieldMean.set {
					if page.set {
						return usageError("--page and --field-mean cannot be used together; give one of them")
					}
					return compareRules(ctx, e, p, fieldMean.value, o, format.value)
				}
				return compareMethods(ctx, e, p, o, page.value, format.value)
			}
			var balanced []plans.Balance
			if c.Bool("balance-costs") {
				if p, balanced, err = balanceWithProgress(ctx, e, p, o); err != nil {
					return designError(err)
				}
			}
			o.Bound = o.Method == plans.RiskTrue
			plan, err := designWithProgress(ctx, e, p, o)
			if err != nil {
				return designError(err)
			}
			if out.set {
				if err := writePlan(out.value, plan); err != nil {
					return err
				}
			}
			doc := designDocument(plan, trials, balanced, out.value)
			if page.set {
				if err := writeDesignPage(page.value, plan, trials, balanced); err != nil {
					return err
				}
				doc.Para("Page for review written to %s.", page.value)
			}
			return printDesign(e, plan, doc, format.value)
		},
	}
}

func methodFlag() *option[string] {
	methods := texts(plans.Methods)
	return choiceFlag("method", "`METHOD` how the boundaries are found", methods...).withDefault(methods[0])
}

func parseWeights(s string) (w [3]float64, err error) {
	parts := strings.Split(s, ",")
	sum := 0.0
	for i, part := range parts {
		if i > 2 {
			break
		}
		x, err := notNegative(part)
		if err != nil {
			return w, err
		}
		w[i] = x
		sum += x
	}
	if len(parts) != 3 || sum == 0 {
		return w, fmt.Errorf("%q is not three numbers; write lower,threshold,upper such as 1,1,1, not all 0", s)
	}
	return w, nil
}

func onlyStage(p plans.Protocol, name string) (plans.Protocol, error) {
	var known []string
	for _, s := range p.Stages {
		if strings.EqualFold(s.Name, name) {
			p.Stages = []plans.Stage{s}
			return p, nil
		}
		known = append(known, s.Name)
	}
	return p, usageError("no stage %q in the protocol; it has: %s", name, strings.Join(known, ", "))
}

func designWithProgress(ctx context.Context, e env, p plans.Protocol, o plans.DesignOptions) (*plans.Plan, error) {
	progress := report.NewProgress(e.Err, "designing", int64(len(p.Stages)))
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	plan, err := plans.Design(ctx, p, o)
	if plan != nil {
		plan.Program = version
	}
	return plan, err
}

func searchPlants(ctx context.Context, e env, p plans.Protocol, o plans.DesignOptions) (int, []plans.PlantsTrial, error) {
	progress := report.NewProgress(e.Err, "trying plants per stop", -1)
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	return plans.BestPlants(ctx, p, o)
}

// designError gives the errors of a design their exit status: a plan that cannot
// exist is work that failed, not bad input.
func designError(err error) error {
	var infeasible *plans.Infeasible
	var cannot *plans.Failure
	var field *plans.FieldError
	switch {
	case errors.Is(err, context.Canceled):
		return failure("interrupted; nothing was written")
	case errors.As(err, &infeasible), errors.As(err, &cannot):
		return failure("%w", err)
	case errors.As(err, &field):
		return flagErrors(err)
	}
	return err
}

func printDesign(e env, plan *plans.Plan, doc *report.Document, format string) error {
	raw, err := plan.JSON()
	if err != nil {
		return err
	}
	records := report.NewRecords("stage", "stop", "plants", "leave", "act")
	for _, s := range plan.Stages {
		for _, r := range s.Rows() {
			records.Add(s.Name, r.Stop, r.Plants, r.Leave, r.Act)
		}
	}
	return report.Write(e.Out, format, report.Output{Doc: doc, Records: records, JSON: json.RawMessage(raw)})
}
