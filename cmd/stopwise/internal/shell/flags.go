package shell

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"

	"github.com/urfave/cli/v2"
)

// The flags that commands share. A flag has the same name, meaning, and range
// wherever it appears; defaults are up to the command, except where one is
// given here.

func LowerFlag() *Option[float64] {
	return ShareFlag("lower", "`SHARE` share of plants infested at or below which treating is needless", 1)
}

func UpperFlag() *Option[float64] {
	return ShareFlag("upper", "`SHARE` share of plants infested at or above which not treating does harm", 1)
}

func LowerMeanFlag() *Option[float64] {
	return NewOption("lower-mean", "`NUMBER` mean number of insects per leaf at or below which treating is needless", Positive)
}

func UpperMeanFlag() *Option[float64] {
	return NewOption("upper-mean", "`NUMBER` mean number of insects per leaf at or above which not treating does harm", Positive)
}

func NeedlessRiskFlag() *Option[float64] {
	return ShareFlag("needless-risk", "`CHANCE` largest chance allowed of acting in a field at the lower bound", 0.5)
}

func MissedRiskFlag() *Option[float64] {
	return ShareFlag("missed-risk", "`CHANCE` largest chance allowed of leaving a field at the upper bound", 0.5)
}

// The largest numbers are those that a protocol may hold.

func PlantsPerStopFlag() *Option[int] {
	return NewOption("plants-per-stop", "`COUNT` plants examined at each stop", Whole(1, protocol.MaxPlants))
}

func MinStopsFlag() *Option[int] {
	return NewOption("min-stops", "`COUNT` the first stop at which there can be a verdict", Whole(1, protocol.MaxStops))
}

func MaxStopsFlag() *Option[int] {
	return NewOption("max-stops", "`COUNT` the last stop: there is always a verdict", Whole(1, protocol.MaxStops))
}

func RhoFlag() *Option[plans.Range] {
	return NewOption("rho", "`VALUE` how alike the plants of a stop are, as their intraclass correlation: "+
		"a value or low..high; 0 when they are independent", rangeWithin(func(r plans.Range) error {
		if r.Low < 0 || r.High >= 1 {
			return fmt.Errorf("%q is out of range; rho must be at least 0 and below 1", r)
		}
		return nil
	}))
}

func KFlag() *Option[plans.Range] {
	return NewOption("k", "`VALUE` parameter k of the negative binomial counts per leaf: a value or low..high; "+
		"the smaller, the more clumped", rangeWithin(func(r plans.Range) error {
		if r.Low <= 0 {
			return fmt.Errorf("%q is out of range; k must be above 0", r)
		}
		return nil
	}))
}

func CountRhoFlag() *Option[plans.Range] {
	return NewOption("count-rho", "`VALUE` how alike the leaves of a stop are, as the correlation of two counts: "+
		"a value or low..high; 0 when they are independent", rangeWithin(func(r plans.Range) error {
		if r.Low < 0 || r.High > protocol.MostCountRho {
			return fmt.Errorf("%q is out of range; the correlation must be from 0 to %s", r, report.Plain(protocol.MostCountRho))
		}
		return nil
	}))
}

// CountRhoHint says what to give where the correlation of counts is missing.
const CountRhoHint = "fit gives it from counts on leaves, such as --count-rho 0.1..0.2; 0 says that the leaves of a stop are independent"

func TaylorFlag() *Option[plans.Taylor] {
	return NewOption("taylor", "`a,b` Taylor's power law of the counts per leaf: variance = a mean^b", parseTaylor)
}

func IwaoFlag() *Option[plans.Iwao] {
	return NewOption("iwao", "`A,B` Iwao's law of the counts per leaf: variance = (A+1) mean + (B-1) mean^2", parseIwao)
}

func TallyFlag() *Option[int] {
	return NewOption("tally", "`COUNT` insects on one leaf that make a plant infested", Whole(1, protocol.MaxTally))
}

func WalkMinutesFlag() *Option[float64] {
	return NewOption("walk-minutes", "`MINUTES` time to walk to a stop", NotNegative)
}

func PlantMinutesFlag() *Option[float64] {
	return NewOption("plant-minutes", "`MINUTES` time to examine a plant", NotNegative)
}

func PrevalenceFlag() *Option[float64] {
	return ShareFlag("prevalence", "`SHARE` share of plants infested that must not be overlooked", 1)
}

func ConfidenceFlag() *Option[float64] {
	return ShareFlag("confidence", "`CHANCE` how sure a statement must be", 1).WithDefault("95%")
}

func SeedFlag() *Option[uint64] {
	return NewOption("seed", "`NUMBER` where the random numbers start; the same number gives the same result",
		func(s string) (uint64, error) {
			n, err := strconv.ParseUint(strings.TrimSpace(s), 10, 64)
			if err != nil {
				return 0, fmt.Errorf("%q is not a whole number of 0 or more", s)
			}
			return n, nil
		}).WithDefault("1")
}

func StageFlag() *Option[string] {
	return NewOption("stage", "`NAME` growth stage", NotEmpty)
}

func FormatFlag() *Option[string] {
	return ChoiceFlag("format", "`FORMAT` output", report.Formats...).WithDefault(report.Formats[0])
}

// ChoiceFlag returns a flag that takes one of several words.
func ChoiceFlag(name, usage string, choices ...string) *Option[string] {
	o := NewOption(name, usage+": "+Either(choices), oneOf(choices))
	o.words = choices
	return o
}

// ShareFlag returns a flag that takes a share above 0 and below limit.
func ShareFlag(name, usage string, limit float64) *Option[float64] {
	return NewOption(name, usage, func(s string) (float64, error) {
		x, err := plans.ParseShare(s)
		if err != nil {
			return 0, err
		}
		if !(x > 0 && x < limit) {
			return 0, fmt.Errorf("%q is out of range; it must be above 0%% and below %s", s, report.Share(limit))
		}
		return x, nil
	})
}

// ClumpFlag returns the flag on clumping that goes with a measure.
func ClumpFlag(m plans.Measure, rho, k *Option[plans.Range]) *Option[plans.Range] {
	if m.Bounded() {
		return rho
	}
	return k
}

// ClumpingGoes returns an error where a flag on clumping was given that has no
// meaning for what a plan counts.
func ClumpingGoes(m plans.Measure, rho, k, countRho *Option[plans.Range]) error {
	use, others := "--rho", []*Option[plans.Range]{k, countRho}
	if !m.Bounded() {
		use, others = "--k or --count-rho", []*Option[plans.Range]{rho}
	}
	for _, o := range others {
		if o.Set {
			return UsageError("--%s does not go with a plan for %s; use %s", o.Name, m, use)
		}
	}
	return nil
}

// Single returns the value of a range flag for work that needs one value.
func Single(o *Option[plans.Range]) (float64, error) {
	if !o.Value.Single() {
		return 0, UsageError("--%s: %s is a range; give one value here", o.Name, o.Value)
	}
	return o.Value.Low, nil
}

func rangeWithin(check func(plans.Range) error) func(string) (plans.Range, error) {
	return func(s string) (plans.Range, error) {
		r, err := plans.ParseRange(s)
		if err != nil {
			return r, err
		}
		return r, check(r)
	}
}

func parseTaylor(s string) (plans.Taylor, error) {
	x, y, isPair := pair(s)
	if !isPair {
		return plans.Taylor{}, fmt.Errorf("%q is not a pair of numbers; write a,b such as 2.5,1.4", s)
	}
	if !(x > 0 && y > 0) {
		return plans.Taylor{}, fmt.Errorf("%q is out of range; a and b must be above 0", s)
	}
	return plans.Taylor{A: x, B: y}, nil
}

func parseIwao(s string) (plans.Iwao, error) {
	x, y, isPair := pair(s)
	if !isPair {
		return plans.Iwao{}, fmt.Errorf("%q is not a pair of numbers; write A,B such as 0.5,1.3", s)
	}
	if !(x > -1 && y > 0) {
		return plans.Iwao{}, fmt.Errorf("%q is out of range; A must be above -1 and B above 0", s)
	}
	return plans.Iwao{A: x, B: y}, nil
}

// pair reads two numbers with a comma between them.
func pair(s string) (x, y float64, ok bool) {
	a, b, ok := strings.Cut(s, ",")
	x, errA := Number(a)
	y, errB := Number(b)
	return x, y, ok && errA == nil && errB == nil
}

func Whole(low, high int) func(string) (int, error) {
	return func(s string) (int, error) {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		if err != nil || n < low || n > high {
			return 0, fmt.Errorf("%q is not a whole number from %d to %d", s, low, high)
		}
		return n, nil
	}
}

func Positive(s string) (float64, error) {
	x, err := Number(s)
	if err != nil || !(x > 0) {
		return 0, fmt.Errorf("%q is not a number above 0", s)
	}
	return x, nil
}

func NotNegative(s string) (float64, error) {
	x, err := Number(s)
	if err != nil || !(x >= 0) {
		return 0, fmt.Errorf("%q is not a number of 0 or more", s)
	}
	return x, nil
}

func Number(s string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
		err = strconv.ErrRange
	}
	return x, err
}

func LeavesFlag() *Option[int] {
	return NewOption("leaves", "`COUNT` leaves examined on a plant", Whole(1, protocol.MaxLeaves)).WithDefault("1")
}

// DetailFlag asks for all that was found in place of what matters first.
func DetailFlag() *cli.BoolFlag {
	return &cli.BoolFlag{Name: "detail", Usage: "print all that was found, with the tables behind the answer"}
}

// Detailed reports whether --detail was given. What it would not change refuses it:
// csv and json hold everything anyway.
func Detailed(c *cli.Context, format string) (bool, error) {
	if !c.Bool("detail") {
		return false, nil
	}
	if format != "text" && format != "markdown" {
		return false, UsageError("--detail goes with text and markdown; %s holds everything anyway", format)
	}
	return true, nil
}
