package scouting

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/plans/precision"
)

type precisionAnswerJSON struct {
	report.Envelope
	Verdict       string       `json:"verdict"` // stop or continue
	Precise       bool         `json:"precise"`
	Stop          int          `json:"stop"`
	Plants        int          `json:"plants"`
	Infested      int          `json:"infested"` // insects for a mean per leaf
	StopAt        *int         `json:"stop_at"`
	DoneAt        *int         `json:"done_at_stop" csv:"-"`
	Next          *int         `json:"next_at_least" csv:"-"`
	Seen          float64      `json:"seen"`
	Estimate      float64      `json:"estimate"` // median-unbiased
	RelativeError *float64     `json:"relative_standard_error" csv:"-"`
	Half          *float64     `json:"relative_half_width"`
	Interval      openInterval `json:"interval"`
	Upper         *float64     `json:"upper"` // one-sided
	UpperSure     float64      `json:"upper_confidence"`
}

// openInterval may have no upper end.
type openInterval struct {
	Lower      float64  `json:"lower"`
	Upper      *float64 `json:"upper"`
	Confidence float64  `json:"confidence" csv:"-"`
}

// checkPrecision is check for a precision plan.
func checkPrecision(p *precision.Plan, counts []plans.Count) (report.Output, error) {
	a, err := p.Check(counts)
	if err != nil {
		return report.Output{}, err
	}
	verdict := "continue"
	if a.Done {
		verdict = "stop"
	}
	j := precisionAnswerJSON{
		Envelope: report.Envelope{Kind: "stopwise precision answer", Version: 1}, Verdict: verdict, Precise: a.Precise,
		Stop: a.Stop, Plants: a.Plants, Infested: a.Total, StopAt: report.OrNull(a.StopAt, plans.NeverAct), DoneAt: report.OrNull(a.DoneAt, 0), Next: report.OrNull(a.Next, plans.NeverAct),
		Seen: a.Seen, Estimate: a.Estimate, RelativeError: report.Finite(a.RelativeError), Half: report.Finite(a.Half),
		Interval: openInterval{a.Interval.Lower, report.Finite(a.Interval.Upper), a.Interval.Confidence},
		Upper:    report.Finite(a.Limit), UpperSure: a.Sure,
	}
	d := &report.Document{}
	say.PrecisionAnswer(d, p, a)
	return report.Output{Doc: d, Records: report.RecordsOf([]precisionAnswerJSON{j}), JSON: j}, nil
}
