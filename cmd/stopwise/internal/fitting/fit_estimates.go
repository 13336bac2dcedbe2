package fitting

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling/fit"
)

func estimateTable(of string, confidence float64) *report.Table {
	return report.NewTable("", "method", ">"+of, ">SE", ">"+report.Share(confidence)+" interval")
}

func estimateRow(method string, e fit.Estimate, number func(float64) string) []string {
	return []string{method, number(e.Value), report.Number(e.SE, 2), interval(e, number)}
}

// clearly is the chance below which a test is taken to speak against what it
// asks. It is common practice.
const clearly = 0.05

// testSentence says what was asked, the statistic, the chance and the answer.
func testSentence(question string, t fit.Test, against, agrees string) string {
	if !t.Known() {
		asked, _, _ := strings.Cut(question, "?")
		return asked + "? Not tested: " + t.Missing + "."
	}
	s := fmt.Sprintf(question, report.Decimals(t.Statistic, 1))
	if t.DF > 0 {
		s += " on " + report.Count(t.DF, "degree", "degrees") + " of freedom"
	}
	answer := agrees
	if t.P < clearly {
		answer = against
	}
	return s + ", P " + chance(t) + ": " + answer + "."
}

func chance(t fit.Test) string {
	switch {
	case !t.Known():
		return report.Unknown
	case t.P < 0.0001:
		return "<0.0001"
	}
	return report.Number(t.P, 2)
}

func degrees(t fit.Test) string {
	if !t.Known() {
		return report.Unknown
	}
	return fmt.Sprint(t.DF)
}
