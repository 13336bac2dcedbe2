package plans

import (
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// What a protocol lays down lives in package protocol.
type (
	Protocol   = protocol.Protocol
	Stage      = protocol.Terms
	About      = protocol.About
	SampleUnit = protocol.SampleUnit
	StopRules  = protocol.StopRules
	Clumping   = protocol.Clumping
	Taylor     = protocol.Taylor
	Iwao       = protocol.Iwao
	Law        = protocol.Law
	Measure    = protocol.Measure
	HoldUnder  = protocol.HoldUnder
	Sign       = protocol.Sign
	ComingBack = protocol.ComingBack
	Costs      = protocol.Costs
	BetaPrior  = protocol.BetaPrior
	World      = protocol.World
	ClumpValue = protocol.ClumpValue
	Range      = protocol.Range
	FieldError = protocol.FieldError
	InputError = protocol.InputError
)

// The measures a stage can have.
const (
	ShareInfested = protocol.ShareInfested
	MeanPerLeaf   = protocol.MeanPerLeaf
)

var (
	ReadProtocol = protocol.Read
	ParseShare   = protocol.ParseShare
	ParseRange   = protocol.ParseRange
	// ParseHoldUnder reads the worlds in which a promise must hold besides.
	ParseHoldUnder = protocol.ParseHoldUnder
	Middle         = protocol.Middle
	DefaultPrior   = protocol.DefaultPrior
	Everywhere     = protocol.Everywhere
	// DefaultStop and DefaultComingBack are taken where a protocol leaves them out.
	DefaultStop       = protocol.DefaultStop
	DefaultComingBack = protocol.DefaultComingBack
)

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
