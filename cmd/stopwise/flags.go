package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// The flags that commands share. A flag has the same name, meaning, and range
// wherever it appears; defaults are up to the command, except where one is
// given here.

func lowerFlag() *option[float64] {
	return shareFlag("lower", "`SHARE` share of plants infested at or below which treating is needless", 1)
}

func upperFlag() *option[float64] {
	return shareFlag("upper", "`SHARE` share of plants infested at or above which not treating does harm", 1)
}

func lowerMeanFlag() *option[float64] {
	return newOption("lower-mean", "`NUMBER` mean number of insects per leaf at or below which treating is needless", positive)
}

func upperMeanFlag() *option[float64] {
	return newOption("upper-mean", "`NUMBER` mean number of insects per leaf at or above which not treating does harm", positive)
}

func needlessRiskFlag() *option[float64] {
	return shareFlag("needless-risk", "`CHANCE` largest chance allowed of acting in a field at the lower bound", 0.5)
}

func missedRiskFlag() *option[float64] {
	return shareFlag("missed-risk", "`CHANCE` largest chance allowed of leaving a field at the upper bound", 0.5)
}

// The largest numbers are those that a protocol may hold.

func plantsPerStopFlag() *option[int] {
	return newOption("plants-per-stop", "`COUNT` plants examined at each stop", whole(1, protocol.MaxPlants))
}

func minStopsFlag() *option[int] {
	return newOption("min-stops", "`COUNT` the first stop at which there can be a verdict", whole(1, protocol.MaxStops))
}

func maxStopsFlag() *option[int] {
	return newOption("max-stops", "`COUNT` the last stop: there is always a verdict", whole(1, protocol.MaxStops))
}

func rhoFlag() *option[plans.Range] {
	return newOption("rho", "`VALUE` how alike the plants of a stop are, as their intraclass correlation: "+
		"a value or low..high; 0 when they are independent", rangeWithin(func(r plans.Range) error {
		if r.Low < 0 || r.High >= 1 {
			return fmt.Errorf("%q is out of range; rho must be at least 0 and below 1", r)
		}
		return nil
	}))
}

func kFlag() *option[plans.Range] {
	return newOption("k", "`VALUE` parameter k of the negative binomial counts per leaf: a value or low..high; "+
		"the smaller, the more clumped", rangeWithin(func(r plans.Range) error {
		if r.Low <= 0 {
			return fmt.Errorf("%q is out of range; k must be above 0", r)
		}
		return nil
	}))
}

func taylorFlag() *option[plans.Taylor] {
	return newOption("taylor", "`A,B` Taylor's power law of the counts per leaf: variance = a mean^b", parseTaylor)
}

func iwaoFlag() *option[plans.Iwao] {
	return newOption("iwao", "`A,B` Iwao's law of the counts per leaf: variance = (A+1) mean + (B-1) mean^2", parseIwao)
}

func tallyFlag() *option[int] {
	return newOption("tally", "`COUNT` insects on one leaf that make a plant infested", whole(1, protocol.MaxTally))
}

func walkMinutesFlag() *option[float64] {
	return newOption("walk-minutes", "`MINUTES` time to walk to a stop", notNegative)
}

func plantMinutesFlag() *option[float64] {
	return newOption("plant-minutes", "`MINUTES` time to examine a plant", notNegative)
}

func prevalenceFlag() *option[float64] {
	return shareFlag("prevalence", "`SHARE` share of plants infested that must not be overlooked", 1)
}

func confidenceFlag() *option[float64] {
	return shareFlag("confidence", "`CHANCE` how sure a statement must be", 1).withDefault("95%")
}

func seedFlag() *option[uint64] {
	return newOption("seed", "`NUMBER` where the random numbers start; the same number gives the same result",
		func(s string) (uint64, error) {
			n, err := strconv.ParseUint(strings.TrimSpace(s), 10, 64)
			if err != nil {
				return 0, fmt.Errorf("%q is not a whole number of 0 or more", s)
			}
			return n, nil
		}).withDefault("1")
}

func stageFlag() *option[string] {
	return newOption("stage", "`NAME` growth stage", func(s string) (string, error) {
		if s = strings.TrimSpace(s); s == "" {
			return "", errEmpty
		}
		return s, nil
	})
}

func formatFlag() *option[string] {
	return choiceFlag("format", "`FORMAT` output", report.Formats...).withDefault(report.Formats[0])
}

// choiceFlag returns a flag that takes one of several words.
func choiceFlag(name, usage string, choices ...string) *option[string] {
	o := newOption(name, usage+": "+either(choices), func(s string) (string, error) {
		if !slices.Contains(choices, s) {
			return "", fmt.Errorf("%q is not known; write %s", s, either(choices))
		}
		return s, nil
	})
	o.words = choices
	return o
}

// shareFlag returns a flag that takes a share above 0 and below limit.
func shareFlag(name, usage string, limit float64) *option[float64] {
	return newOption(name, usage, func(s string) (float64, error) {
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

// single returns the value of a range flag for work that needs one value.
func single(o *option[plans.Range]) (float64, error) {
	if !o.value.Single() {
		return 0, usageError("--%s: %s is a range; give one value here", o.Name, o.value)
	}
	return o.value.Low, nil
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
	a, b, isPair := strings.Cut(s, ",")
	x, errA := number(a)
	y, errB := number(b)
	if !isPair || errA != nil || errB != nil {
		return plans.Taylor{}, fmt.Errorf("%q is not a pair of numbers; write a,b such as 2.5,1.4", s)
	}
	if !(x > 0 && y > 0) {
		return plans.Taylor{}, fmt.Errorf("%q is out of range; a and b must be above 0", s)
	}
	return plans.Taylor{A: x, B: y}, nil
}

func parseIwao(s string) (plans.Iwao, error) {
	a, b, isPair := strings.Cut(s, ",")
	x, errA := number(a)
	y, errB := number(b)
	if !isPair || errA != nil || errB != nil {
		return plans.Iwao{}, fmt.Errorf("%q is not a pair of numbers; write A,B such as 0.5,1.3", s)
	}
	if !(x > -1 && y > 0) {
		return plans.Iwao{}, fmt.Errorf("%q is out of range; A must be above -1 and B above 0", s)
	}
	return plans.Iwao{A: x, B: y}, nil
}

func whole(low, high int) func(string) (int, error) {
	return func(s string) (int, error) {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		if err != nil || n < low || n > high {
			return 0, fmt.Errorf("%q is not a whole number from %d to %d", s, low, high)
		}
		return n, nil
	}
}

func positive(s string) (float64, error) {
	x, err := number(s)
	if err != nil || !(x > 0) {
		return 0, fmt.Errorf("%q is not a number above 0", s)
	}
	return x, nil
}

func notNegative(s string) (float64, error) {
	x, err := number(s)
	if err != nil || !(x >= 0) {
		return 0, fmt.Errorf("%q is not a number of 0 or more", s)
	}
	return x, nil
}

func number(s string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
		err = strconv.ErrRange
	}
	return x, err
}
