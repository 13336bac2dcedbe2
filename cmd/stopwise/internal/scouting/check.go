// Package scouting holds the commands of whoever walks: check, walk and season.
package scouting

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// checkJSON is an answer; its CSV, one row, holds what a sheet of visits would.
type checkJSON struct {
	report.Envelope
	Stage     string             `json:"stage"`
	Last      plans.Last         `json:"last,omitempty" csv:"-"` // the fields of the table, where the stage has several
	Verdict   string             `json:"verdict"`
	Stop      int                `json:"stop"`
	Plants    int                `json:"plants"`
	Infested  int                `json:"infested"` // insects for a mean per leaf
	Counted   int                `json:"counted"`  // what leave and act are held against: with a cap or points not infested
	Ended     int                `json:"stops_at_cap" csv:"-"`
	Leave     *int               `json:"leave"`
	Act       *int               `json:"act"`
	DecidedAt *int               `json:"decided_at_stop" csv:"-"`
	Signs     int                `json:"signs" csv:"-"`
	NoSign    bool               `json:"sign_missing" csv:"-"`
	Next      *nextJSON          `json:"next" csv:"-"`
	Seen      *float64           `json:"seen"`     // null where looking ended early at a stop
	Estimate  *float64           `json:"estimate"` // median-unbiased; null where it has no upper end
	Interval  openInterval       `json:"interval"`
	Upper     *float64           `json:"upper"` // one-sided; null: none
	UpperSure float64            `json:"upper_confidence"`
	FromHere  map[string]chances `json:"from_here" csv:"-"`
	Revisit   *revisitJSON       `json:"revisit"` // null while walking, after act, and where the protocol does not say
	Uneven    bool               `json:"uneven_plants" csv:"-"`
	PathRisks []plans.Risk       `json:"path_risks" csv:"-"`
}

type nextJSON struct {
	Plants int  `json:"plants"`
	Leave  *int `json:"leave_at_most"`
	Act    *int `json:"act_at_least"`
	Any    bool `json:"any_leaves,omitempty"` // any count of insects brings leave
}

type chances struct {
	Act   *float64 `json:"p_act"` // null where a chance of the sign is not known
	Leave *float64 `json:"p_leave"`
}

func CheckCommand(e shell.Env) *cli.Command {
	stage, last := shell.StageFlag(), shell.LastFlag()
	found := &cli.BoolFlag{Name: "found", Usage: "the pest was found in this field on an earlier visit: it is visited more often"}
	return shell.Question{
		Name:      "check",
		Usage:     "say after each stop whether to leave, to act or to walk on",
		Arguments: "PLAN.json COUNT...",
		Description: `Give the count of every stop so far, in order: the infested plants, or infested/plants where another number of plants was seen than planned. Where the growth stage asks for a further sign, put an s behind the count of each stop at which it was seen. Where a stop counts at most so many and looking ended there, 8+ is 8 or more.

$ stopwise check plan.json 3 5 2/13 6 --stage leafing
$ stopwise check plan.json 9 7s 8 11s --stage "pod fill"`,
		Flags: []cli.Flag{stage, found, last},
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if c.NArg() < 2 {
				return out, shell.UsageHint("such as stopwise check plan.json 3 5 2/18", "check needs a plan and the count of each stop")
			}
			plan, estimate, err := shell.ReadAnyPlan(e, c.Args().First())
			if err != nil {
				return out, err
			}
			counts, err := shell.ParseCounts(c.Args().Tail())
			if err != nil {
				return out, shell.UsageError("%w", err)
			}
			if estimate != nil {
				if stage.Set {
					return out, shell.UsageError("--stage: a plan for an estimate has no growth stages")
				}
				if last.Set {
					return out, shell.UsageError("--last: a plan for an estimate has one way to walk for all fields")
				}
				if c.Bool("found") {
					return out, shell.UsageError("--found: a plan for an estimate does not say when to come back")
				}
				return checkPrecision(estimate, counts)
			}
			s, err := plan.Stage(stage.Value)
			if err != nil {
				return out, err
			}
			if s, err = shell.TableFor(s, last); err != nil {
				return out, err
			}
			if s.Last != "" && c.Bool("found") {
				return out, shell.UsageError("--found and --last cannot be used together; --last says it")
			}
			a, err := s.Check(counts)
			if err != nil {
				return out, err
			}
			back := s.RevisitAfter(a, plans.History{Found: c.Bool("found"), Last: s.Last})
			return checkOutput(s, a, back), nil
		},
	}.Command(e)
}

func checkOutput(s *plans.StagePlan, a plans.Answer, back *plans.Revisit) report.Output {
	if !say.ComesBack(s, a) {
		back = nil
	}
	j := newCheckJSON(s, a, back)
	d := &report.Document{}
	when := ""
	if back != nil {
		when = fmt.Sprintf("Come back in %s. %s", report.Count(back.Days, "day", "days"), say.English().RevisitReason(s, back))
		if !back.Found && s.Last == "" {
			when += " Where the pest was found in this field before, add --found: then the visits are closer together."
		}
	}
	if of := say.English().FieldsOf(s); of != "" {
		d.Para("By the table for fields with: %s.", of)
	}
	say.English().AnswerDocument(d, s, a, when)
	if a.Verdict == plans.Act {
		say.English().AddCautions(d, s.About)
	}
	return report.Output{Doc: d, Records: report.RecordsOf([]checkJSON{j}), JSON: j}
}

func newCheckJSON(s *plans.StagePlan, a plans.Answer, back *plans.Revisit) checkJSON {
	j := checkJSON{
		Envelope: report.Envelope{Kind: "stopwise answer", Version: 1},
		Stage:    s.Name, Last: s.Last, Verdict: a.Verdict.String(), Stop: a.Stop, Plants: a.Plants, Infested: a.Total, Counted: a.Counted, Ended: a.Ended,
		Leave: report.OrNull(a.Leave, plans.NeverLeave), Act: report.OrNull(a.Act, plans.NeverAct),
		DecidedAt: report.OrNull(a.DecidedAt, 0), Signs: a.Signs, NoSign: a.SignMissing, Seen: seenOrNull(s, a), Estimate: report.Finite(a.Estimate),
		Interval: openInterval{a.Interval.Lower, report.Finite(a.Interval.Upper), a.Interval.Confidence},
		Upper:    report.Finite(a.Limit), UpperSure: a.Sure,
		Revisit: newRevisitJSON(back),
		Uneven:  a.Uneven, PathRisks: a.Risks,
	}
	if n := a.Next; n != nil {
		j.Next = &nextJSON{n.Plants, report.OrNull(n.Leave, plans.NeverLeave), report.OrNull(n.Act, plans.NeverAct), n.AnyLeaves}
	}
	if h := a.FromHere; h != nil {
		j.FromHere = map[string]chances{
			"lower": {report.Finite(h.ActAtLower), report.Finite(h.LeaveAtLower)},
			"upper": {report.Finite(h.ActAtUpper), report.Finite(h.LeaveAtUpper)},
		}
	}
	return j
}

func seenOrNull(s *plans.StagePlan, a plans.Answer) *float64 {
	if a.Ended > 0 {
		return nil
	}
	seen := a.Seen(s)
	return &seen
}

type revisitJSON struct {
	Days       int      `json:"days"`
	Rule       string   `json:"rule" csv:"-"` // interval, growth or limit
	Found      bool     `json:"found" csv:"-"`
	Interval   float64  `json:"interval_days" csv:"-"`
	Level      *float64 `json:"upper_limit" csv:"-"` // null: none
	Confidence float64  `json:"confidence" csv:"-"`
	Threshold  float64  `json:"threshold" csv:"-"`
	Stage      string   `json:"threshold_stage" csv:"-"`
	Growth     float64  `json:"growth_per_day" csv:"-"`
	Reach      *float64 `json:"days_to_threshold" csv:"-"` // null: never
	Lead       float64  `json:"lead_days" csv:"-"`
}

func newRevisitJSON(r *plans.Revisit) *revisitJSON {
	if r == nil {
		return nil
	}
	j := &revisitJSON{
		Days: r.Days, Rule: string(r.Rule), Found: r.Found, Interval: r.Interval, Level: report.Finite(r.Level), Confidence: r.Confidence,
		Threshold: r.Threshold, Stage: r.Stage, Growth: r.Growth, Lead: r.Lead,
	}
	if !math.IsInf(r.Reach, 1) {
		j.Reach = &r.Reach
	}
	return j
}
