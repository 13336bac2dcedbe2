package fitting

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
	"stopwise/sampling/fit"
)

// A constantRow is a constant from the visits of a season, as CSV and JSON have it.
type constantRow struct {
	Stage    *string  `json:"stage"` // null for all stages together
	Constant string   `json:"constant"`
	Estimate *float64 `json:"estimate"`
	Lower    *float64 `json:"lower"`
	Upper    *float64 `json:"upper"`
	Fields   int      `json:"fields"`
	Visits   int      `json:"visits"`
	Stops    *int     `json:"stops"`
	Spread   *float64 `json:"spread"` // of growth, from field to field
	Low      *float64 `json:"protocol_low"`
	High     *float64 `json:"protocol_high"`
	Compared string   `json:"compared"` // held, not refuted, higher, lower; empty without a protocol
	Reason   string   `json:"reason"`   // why there is no estimate

	estimate fit.Estimate
	stated   *plans.Range
}

// A promiseRow is what the risks of a stage became.
type promiseRow struct {
	Stage            string   `json:"stage"`
	NeedlessPromised float64  `json:"needless_promised"`
	Needless         *float64 `json:"needless"`
	NeedlessWorst    *float64 `json:"needless_worst"`
	NeedlessKept     string   `json:"needless_kept"`
	MissedPromised   float64  `json:"missed_promised"`
	Missed           *float64 `json:"missed"`
	MissedWorst      *float64 `json:"missed_worst"`
	MissedKept       string   `json:"missed_kept"`
}

// A followedRow is a field that was left and within a week was to be treated.
type followedRow struct {
	Field string `json:"field"`
	Stage string `json:"stage"`
	Left  string `json:"left"`
	Acted string `json:"acted"`
}

type learnedJSON struct {
	report.Envelope
	Confidence float64       `json:"confidence"`
	File       string        `json:"file"`
	Fields     int           `json:"fields"`
	Visits     int           `json:"visits"`
	Void       int           `json:"visits_void"`
	Empty      int           `json:"visits_without_stops"`
	Constants  []constantRow `json:"constants"`
	AlikeP     *float64      `json:"stages_share_rho_p_value"`
	EvenlyP    *float64      `json:"stages_share_growth_p_value"`
	Protocol   *string       `json:"protocol"`
	Plan       *string       `json:"plan"` // checksum, where the season was walked by it
	Promises   []promiseRow  `json:"promises"`
	Leaves     leavesJSON    `json:"leaves"`
	Section    string        `json:"section"` // for the next protocol
}

type leavesJSON struct {
	Verdicts int           `json:"verdicts"`
	Days     int           `json:"within_days"`
	Again    int           `json:"seen_again"`
	Acted    int           `json:"acted"`
	Cases    []followedRow `json:"cases"`
}

func (l *learning) rows() (rows []constantRow) {
	add := func(stage *string, constant string, e fit.Estimate, fields, visits int, stated *plans.Range) *constantRow {
		r := constantRow{Stage: stage, Constant: constant, Estimate: report.Finite(e.Value), Lower: report.Finite(e.Lower), Upper: report.Finite(e.Upper),
			Fields: fields, Visits: visits, Reason: e.Missing, estimate: e, stated: stated}
		if stated != nil {
			r.Low, r.High, r.Compared = report.Finite(stated.Low), report.Finite(stated.High), compare(e, *stated)
		}
		rows = append(rows, r)
		return &rows[len(rows)-1]
	}
	for _, s := range l.stages {
		name := s.plan.Name
		clump, growth := s.promise.stated(s)
		add(&name, s.key(), s.clumping.Estimate, s.clumping.Fields, s.clumping.Visits, clump).Stops = &s.clumping.Stops
		if s.k != nil {
			add(&name, "k", s.k.Estimate, s.k.Fields, s.k.Visits, s.promise.statedK()).Stops = &s.k.Stops
		}
		add(&name, "growth_per_day", s.growth.Estimate, s.growth.Fields, s.growth.Visits, growth).Spread = report.Finite(s.growth.Spread)
	}
	if len(l.stages) > 1 {
		if l.clumping.Visits > 0 {
			add(nil, "rho", l.clumping.Estimate, l.clumping.Fields, l.clumping.Visits, nil).Stops = &l.clumping.Stops
		}
		add(nil, "growth_per_day", l.growth.Estimate, l.growth.Fields, l.growth.Visits, nil).Spread = report.Finite(l.growth.Spread)
	}
	return rows
}

func (l *learning) promises() []promiseRow {
	rows := []promiseRow{}
	for _, s := range l.stages {
		p := s.promise
		if p == nil || p.at == nil {
			continue
		}
		r := promiseRow{
			Stage: s.plan.Name, NeedlessPromised: p.stage.NeedlessRisk, MissedPromised: p.stage.MissedRisk,
			Needless: report.Finite(needlessOf(p.at)), Missed: report.Finite(missedOf(p.at)),
			NeedlessKept: p.kept(needlessOf, p.stage.NeedlessRisk), MissedKept: p.kept(missedOf, p.stage.MissedRisk),
		}
		if p.over != nil {
			r.NeedlessWorst, r.MissedWorst = report.Finite(needlessOf(p.over)), report.Finite(missedOf(p.over))
		}
		rows = append(rows, r)
	}
	return rows
}

func (l *learning) json() learnedJSON {
	j := learnedJSON{
		Envelope: report.Envelope{Kind: "stopwise season fit", Version: 1}, Confidence: l.confidence, File: l.file,
		Fields: l.records.Fields, Visits: len(l.records.Visits), Void: l.records.Void, Empty: l.records.Empty,
		Constants: l.rows(), AlikeP: report.Finite(l.alike.P), EvenlyP: report.Finite(l.evenly.P), Promises: l.promises(),
		Leaves: leavesJSON{l.followed.Leaves, season.FollowDays, l.followed.Again, l.followed.Acted, []followedRow{}},
	}
	for _, c := range l.followed.Cases {
		j.Leaves.Cases = append(j.Leaves.Cases, followedRow{c.Left.Field, c.Left.Stage, c.Left.Date, c.Acted.Date})
	}
	j.Section, _ = l.section(false)
	if l.against != nil {
		j.Protocol = &l.against.file
		if l.against.used != "" {
			j.Plan = &l.against.used
		}
	}
	return j
}
