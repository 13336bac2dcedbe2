package card

import (
	"fmt"
	"math"

	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// data is what the page's program works with.
type data struct {
	Plan     string   `json:"plan"` // checksum
	Program  string   `json:"program"`
	Language string   `json:"language"`
	Words    any      `json:"words"` // of the page's program, by name
	Title    string   `json:"title"`
	Most     int      `json:"most_plants"` // accepted at one stop
	Cautions []string `json:"cautions"`
	Stages   []stage  `json:"stages"`
	Places   []string `json:"places"` // where the stops are, in words
	// All are the stages of the protocol in their order, on the card or not: a
	// field can grow into the next one before the next visit.
	All []stageLevel `json:"all"`
}

type stage struct {
	Name string `json:"name"`
	// Last and Fields say for which fields the table is, where a stage has several by what
	// earlier visits found.
	Last   plans.Last `json:"last,omitempty"`
	Fields string     `json:"fields,omitempty"`
	Shares bool       `json:"shares"` // a plant counts for at most one
	Plants int        `json:"plants"` // at each stop
	Leaves int        `json:"leaves"` // units on a plant: 1 for shares
	// Cap is the most that a stop counts, 0 for none; Points is the map of its points.
	Cap       int          `json:"cap"`
	Points    *rule.Points `json:"points"`
	Worth     string       `json:"worth"` // what a stop counts, in words
	LeaveAt   []*int       `json:"leave"`
	ActAt     []*int       `json:"act"`
	Sign      *sign        `json:"sign"`
	Threshold string       `json:"threshold"`
	Infested  string       `json:"infested"` // what makes a plant infested
	Broken    string       `json:"broken"`
	Unit      string       `json:"unit"`
	Own       bool         `json:"own"` // the protocol has a word for what is examined
	One       string       `json:"one"` // that word or plant, for one and for many
	Many      string       `json:"many"`
	Back      *comingBack  `json:"back"`
}

type sign struct {
	Text  string `json:"text"`
	Stops int    `json:"stops"`
	// Absent turns it round; At and Asked say at how many stops it must be seen.
	Absent bool   `json:"absent"`
	At     string `json:"at"`
	Asked  string `json:"asked"`
}

type comingBack struct {
	UntilFound float64 `json:"until_found"`
	OnceFound  float64 `json:"once_found"`
	// MoreFound are the days where the visit saw MoreFrom or more, if that is above 0.
	MoreFound float64 `json:"more_found,omitempty"`
	MoreFrom  float64 `json:"more_from,omitempty"`
	Lead      float64 `json:"lead"`
	Growth    float64 `json:"growth"`
	// ByIntervals says that the days were chosen for the season's promises.
	ByIntervals bool `json:"by_intervals,omitempty"`
	// Limits are, by stop, runs of totals: the last one and the upper limit after it.
	Limits [][][2]float64 `json:"limits"`
}

type stageLevel struct {
	Name      string  `json:"name"`
	Shares    bool    `json:"shares"`
	Threshold float64 `json:"threshold"`
	Text      string  `json:"text"`
	Lasts     float64 `json:"lasts"` // days; 0 = not said
}

// mostPlants is the largest number of plants that a stop can have.
const mostPlants = protocol.MaxPlants

func (c Card) data() (data, error) {
	p := c.Plan.Protocol
	d := data{
		Plan: c.Checksum, Program: c.Plan.Program, Title: c.title(), Language: c.Language.Tag(), Words: c.Language.Forms(pageWords...), Most: mostPlants, Cautions: c.Cautions,
	}
	if c.Map != nil {
		d.Places = c.Map.Places
	}
	for i, s := range c.Stages {
		st := stage{
			Name: s.Name, Last: s.Last, Fields: c.Fields[i], Shares: s.Measure == plans.ShareInfested, Plants: s.Plants(), Leaves: s.UnitsPerPlant(),
			Threshold: c.Language.Level(s.Measure, s.Threshold), Infested: c.infested(s.Stage), Broken: c.Broken[i],
			Unit: s.Unit.Text,
		}
		var err error
		if st.Back, err = newComingBack(s); err != nil {
			return d, err
		}
		st.Cap, st.Points, st.Worth = s.Worth.Cap, s.Worth.Points, c.worth(i)
		st.Own = s.Unit.Word != ""
		st.One, st.Many = c.Language.UnitWords(s.Stage)
		for _, r := range s.Rows() {
			st.LeaveAt, st.ActAt = append(st.LeaveAt, r.Leave), append(st.ActAt, r.Act)
		}
		if s.Sign != nil {
			st.Sign = &sign{s.Sign.Text, s.Sign.Stops, s.Sign.Absent, c.Language.SignAt(*s.Sign), c.Language.SignNumber(*s.Sign)}
		}
		d.Stages = append(d.Stages, st)
	}
	for _, s := range p.Stages {
		d.All = append(d.All, stageLevel{
			Name: s.Name, Shares: s.Measure == plans.ShareInfested, Threshold: s.Threshold, Text: c.Language.Level(s.Measure, s.Threshold), Lasts: s.LastsDays,
		})
	}
	return d, nil
}

// pageWords are the parts of the catalogue that the page's program speaks with.
var pageWords = []string{"language", "count", "unit", "date", "sign", "verdict", "worth", "next", "scout", "back", "card", "where"}

// infested says when a plant counts as infested, or what is counted.
func (c Card) infested(s plans.Stage) string {
	l := c.Language
	one, _ := l.UnitWords(s)
	if s.Measure == plans.MeanPerLeaf {
		return l.Say("scout.count_insects", "Leaves", l.Count("count.leaves", s.Unit.Leaves), "One", one)
	}
	if n := s.Unit.Tally; n > 0 {
		return l.Say("scout.infested_tally", "Insects", l.Count("count.insects", n))
	}
	return l.Say("scout.infested_any")
}

func newComingBack(s *plans.StagePlan) (*comingBack, error) {
	b := s.ComingBack
	if b == nil {
		return nil, nil
	}
	limits, err := s.ReturnLimits()
	if err != nil {
		return nil, fmt.Errorf("card: %w", err)
	}
	growth := b.GrowthPerDay
	if b.ByIntervals {
		growth = 0
	}
	c := &comingBack{
		UntilFound: b.DaysUntilFound, OnceFound: b.DaysOnceFound, MoreFound: b.DaysMoreFound, MoreFrom: b.MoreFrom, Lead: b.LeadDays, Growth: growth, ByIntervals: b.ByIntervals,
		Limits: make([][][2]float64, s.Table.Stops()),
	}
	for _, l := range limits {
		// JSON has no number for a level without an upper limit: any is past the threshold.
		c.Limits[l.Stop-1] = append(c.Limits[l.Stop-1], [2]float64{float64(l.Total), min(l.Upper, math.MaxFloat64)})
	}
	return c, nil
}
