// Package designing holds the commands that make and show a plan: design, table
// and curve.
package designing

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func DesignCommand(e shell.Env, parts Evidence) *cli.Command {
	s := shell.NewSituation()
	method := shell.MethodFlag()
	weights := shell.NewOption("weights", "`WEIGHTS` how much the stops at the lower bound, the threshold and the upper bound count when a design makes them few",
		parseWeights).WithoutValue("1,1,1")
	out := shell.PlanOutFlag()
	page := shell.OutputFlag("page", "`FILE` write all tables and pictures there, as one HTML page for review by colleagues; its name ends in .html", outfile.IsPage, reviewPage, func(s string) error {
		if ext := strings.ToLower(filepath.Ext(s)); ext != ".html" && ext != ".htm" {
			return fmt.Errorf("%q is no HTML page; end the name in .html", s)
		}
		return nil
	})
	stage, format, own := shell.StageFlag(), shell.FormatFlag(), tableFlag()
	detail := shell.DetailFlag()
	precise := newPrecisionFlags()
	behind := newEvidenceFlags(parts)
	fieldMean := shell.NewOption("field-mean", "`NUMBER` with --compare: what the rules of the stages would each do in one field with this mean per leaf", shell.Positive)
	compare := &cli.BoolFlag{Name: "compare", Usage: "compare the methods in one table instead of making a plan"}
	balance := &cli.BoolFlag{Name: "balance-costs", Usage: "choose both risks of every stage so that the expected loss and the scout's time cost least, by the protocol's costs and late losses, in place of the risks it states; with [season] the tables and intervals that lose least over it"}
	routes := &cli.BoolFlag{Name: "routes", Usage: "say on which routes through a field the plan keeps its promise, by simulation: some seconds for each stage"}
	return &cli.Command{
		Name:      "design",
		Usage:     "make a plan with exact risks from a protocol",
		ArgsUsage: "[PROTOCOL.toml]",
		Description: `Turns a protocol into a plan: for each growth stage a table that says after every stop whether to leave the field, to act, or to walk on. The risks printed are exact, clumping included. Without a protocol the flags state one unnamed stage.

$ stopwise design testdata/marrow-vale/protocol.toml --out plan.json
$ stopwise design --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise design testdata/marrow-vale/protocol.toml --page review.html
$ stopwise design protocol.toml --page evidence.html --made-by "A. Grower" --pilot pilot.csv --data fields.csv
$ stopwise design --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1 --table habit.csv

The method risk-true finds the table with the least walking whose risks hold over the whole clumping range; risk-true-lines the best pair of straight lines that keeps them; fixed the fewest stops without early verdicts; lines takes the textbook lines, whose risks do not hold where plants clump; iwao takes curves around the threshold, which promise no risk. Fewest stops are fewest minutes too, since every stop takes the same time.

With --precision the walk ends not with a verdict but when the estimate is precise enough: of a mean per leaf (--k, --taylor or --iwao), or of the share infested (--rho).

$ stopwise design --precision 25% --taylor 2.5,1.4 --out estimate.json`,
		Flags: append(append(s.Flags(), method, weights, stage, out, page, compare, fieldMean, balance, routes, own, detail, format), append(behind.flags(), precise.flags()...)...),
		Action: shell.Interruptible(func(ctx context.Context, c *cli.Context) error {
			detailed, err := shell.Detailed(c, format.Value)
			if err != nil {
				return err
			}
			asked, err := precise.asked()
			if err != nil {
				return err
			}
			if detailed && (asked || c.Bool("compare")) {
				return shell.UsageError("--detail does nothing here; --precision and --compare print all they find")
			}
			if err := behind.check(page, asked || c.Bool("compare")); err != nil {
				return err
			}
			if asked {
				if err := notForPrecision(c, s, method, weights, page, own); err != nil {
					return err
				}
				return designPrecision(e, c, s, precise, stage, out, format.Value)
			}
			s.WithoutStops = own.Set
			p, err := s.Read(e, c)
			if err != nil {
				return err
			}
			if stage.Set {
				if p, err = shell.OnlyStage(p, stage.Value); err != nil {
					return err
				}
			}
			if own.Set {
				if err := notForOwnTable(c, s, own, method, fieldMean); err != nil {
					return err
				}
			}
			o := plans.DesignOptions{Method: plans.Method(method.Value), Weights: weights.Value}
			var trials []plans.PlantsTrial
			if s.Auto() {
				var plants int
				if plants, trials, err = shell.SearchPlants(ctx, e, p, o); err != nil {
					return shell.DesignError(err)
				}
				p = p.Each(func(s *plans.Stage) { s.Stop.Plants = plants })
			}
			if c.Bool("routes") && (c.Bool("compare") || format.Value == "json" || format.Value == "csv") {
				return shell.UsageHint("stopwise validate PLAN.json --simulate space gives them as json and csv", "--routes goes with a plan and the formats text and markdown")
			}
			if fieldMean.Set && !c.Bool("compare") {
				return shell.UsageError("--field-mean goes with --compare")
			}
			if c.Bool("compare") {
				if out.Set {
					return shell.UsageError("--compare makes no plan to write; leave --out away")
				}
				if c.Bool("balance-costs") {
					return shell.UsageError("--compare and --balance-costs cannot be used together; give one of them")
				}
				if fieldMean.Set {
					if page.Set {
						return shell.UsageError("--page and --field-mean cannot be used together; give one of them")
					}
					return compareRules(ctx, e, p, fieldMean.Value, o, format.Value)
				}
				return compareMethods(ctx, e, p, o, page.Value, format.Value)
			}
			var balanced say.Balanced
			overSeason := c.Bool("balance-costs") && p.Seasonal != nil
			if c.Bool("balance-costs") && !overSeason {
				if p, balanced.Stages, err = shell.BalanceWithProgress(ctx, e, p, o); err != nil {
					return shell.DesignError(err)
				}
			}
			o.Bound = o.Method == plans.RiskTrue
			o.Price = o.Bound
			var plan *plans.Plan
			switch {
			case own.Set:
				plan, err = judgeTable(ctx, e, p, own.Value, o)
			case overSeason:
				if plan, balanced.Season, err = shell.BalanceSeasonWithProgress(ctx, e, p, o); err != nil {
					err = shell.DesignError(err)
				}
			default:
				if plan, err = shell.DesignWithProgress(ctx, e, p, o); err != nil {
					err = shell.DesignError(err)
				}
			}
			if err != nil {
				return err
			}
			if out.Set {
				if err := shell.WritePlan(out.Value, plan); err != nil {
					return err
				}
			}
			doc := say.DesignBrief(plan, trials, balanced, out.Value)
			if detailed {
				doc = say.DesignDocument(plan, trials, balanced, out.Value)
			}
			if c.Bool("routes") {
				if err := routesDocument(ctx, e, doc, plan); err != nil {
					return err
				}
			}
			if page.Set {
				if err := writeDesignPage(page.Value, plan, trials, balanced, func(d *report.Document) error {
					return behind.add(ctx, e, d, plan, c.Args().First())
				}); err != nil {
					return err
				}
				doc.Para("Page for review written to %s.", page.Value)
			}
			return printDesign(e, plan, doc, format.Value)
		}),
	}
}

func parseWeights(s string) (w [3]float64, err error) {
	parts := strings.Split(s, ",")
	sum := 0.0
	for i, part := range parts {
		if i > 2 {
			break
		}
		x, err := shell.NotNegative(part)
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

func printDesign(e shell.Env, plan *plans.Plan, doc *report.Document, format string) error {
	raw, err := plan.JSON()
	if err != nil {
		return err
	}
	type row struct { // as the rows of a plan file
		Stage string `json:"stage"`
		plans.Row
	}
	var rows []row
	for _, s := range plan.Tables() {
		for _, r := range s.Rows() {
			rows = append(rows, row{say.English().TableName(s), r})
		}
	}
	return report.Write(e.Out, format, report.Output{Doc: doc, Records: report.RecordsOf(rows), JSON: json.RawMessage(raw)})
}
