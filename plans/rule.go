package plans

import "stopwise/plans/rule"

// The rule of a visit and its exact evaluation live in package rule.
type (
	Table      = rule.Table
	Verdict    = rule.Verdict
	Outcome    = rule.Outcome
	Evaluation = rule.Evaluation
	LinePair   = rule.LinePair
	WaldPoint  = rule.WaldPoint
)

// The verdicts, and the numbers that no total reaches.
const (
	Continue   = rule.Continue
	Leave      = rule.Leave
	Act        = rule.Act
	NeverLeave = rule.NeverLeave
	NeverAct   = rule.NeverAct
)

var (
	Evaluate      = rule.Evaluate
	BinomialLines = rule.BinomialLines
	CountLines    = rule.CountLines
)
