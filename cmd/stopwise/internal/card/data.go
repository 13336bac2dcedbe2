package card

import (
	"cmp"
	"fmt"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// data is what the page's program works with.
type data struct {
	Plan     string      `json:"plan"` // checksum
	Program  string      `json:"program"`
	Title    string      `json:"title"`
	Unit     string      `json:"unit"`
	Most     int         `json:"most_plants"` // accepted at one stop
	Cautions []string    `json:"cautions"`
	Stages   []stage     `json:"stages"`
	Back     *comingBack `json:"back"`
	// All are the stages of the protocol in their order, on the card or not: a
	// field can grow into the next one before the next visit.
	All []stageLevel `json:"all"`
}

type stage struct {
	Name      string `json:"name"`
	Shares    bool   `json:"shares"` // a plant counts for at most one
	Plants    int    `json:"plants"` // at each stop
	Leaves    int    `json:"leaves"` // units on a plant: 1 for shares
	LeaveAt   []*int `json:"leave"`
	ActAt     []*int `json:"act"`
	Sign      *sign  `json:"sign"`
	Threshold string `json:"threshold"`
	Infested  string `json:"infested"` // what makes a plant infested
	Broken    string `json:"broken"`
	Clump     clump  `json:"clump"`
}

type sign struct {
	Text  string `json:"text"`
	Stops int    `json:"stops"`
}

// clump is the most clumped world of a stage: rho at a stop, or the variance of
// the counts per leaf.
type clump struct {
	Rho    float64       `json:"rho"`
	K      *float64      `json:"k"`
	Taylor *plans.Taylor `json:"taylor"`
	Iwao   *plans.Iwao   `json:"iwao"`
}

type comingBack struct {
	UntilFound float64 `json:"until_found"`
	OnceFound  float64 `json:"once_found"`
	Lead       float64 `json:"lead"`
	Growth     float64 `json:"growth"`
	Z          float64 `json:"z"` // normal quantile of the upper limit's confidence
}

type stageLevel struct {
	Name      string  `json:"name"`
	Shares    bool    `json:"shares"`
	Threshold float64 `json:"threshold"`
	Text      string  `json:"text"`
	Lasts     float64 `json:"lasts"` // days; 0 = not said
}

// mostPlants is the largest number of plants that a stop can have.
const mostPlants = 10000

func (c Card) data() data {
	p := c.Plan.Protocol
	d := data{
		Plan: c.Checksum, Program: c.Plan.Program, Title: title(p), Unit: p.Unit.Text, Most: mostPlants,
		Cautions: c.Cautions, Back: newComingBack(p.ComingBack),
	}
	for i, s := range c.Stages {
		st := stage{
			Name: s.Name, Shares: s.Measure == plans.ShareInfested, Plants: s.Plants(), Leaves: p.UnitsPerPlant(s.Measure),
			Threshold: plans.FormatLevel(s.Measure, s.Threshold), Infested: infested(p, s.Stage), Broken: c.Broken[i], Clump: newClump(p, s),
		}
		for _, r := range s.Rows() {
			st.LeaveAt, st.ActAt = append(st.LeaveAt, r.Leave), append(st.ActAt, r.Act)
		}
		if s.Sign != nil {
			st.Sign = &sign{s.Sign.Text, s.Sign.Stops}
		}
		d.Stages = append(d.Stages, st)
	}
	for _, s := range p.Stages {
		d.All = append(d.All, stageLevel{
			Name: s.Name, Shares: s.Measure == plans.ShareInfested, Threshold: s.Threshold, Text: plans.FormatLevel(s.Measure, s.Threshold), Lasts: s.LastsDays,
		})
	}
	return d
}

// infested says when a plant counts as infested, or what is counted.
func infested(p plans.Protocol, s plans.Stage) string {
	if s.Measure == plans.MeanPerLeaf {
		return "Count the insects on " + report.Count(p.Unit.Leaves, "leaf", "leaves") + " of each plant."
	}
	if n := p.TallyOf(s); n > 0 {
		return fmt.Sprintf("Infested: a leaf carries %s or more.", report.Count(n, "insect", "insects"))
	}
	return "Infested: a leaf carries any insect."
}

func newClump(p plans.Protocol, s *plans.StagePlan) clump {
	if s.Measure == plans.ShareInfested {
		return clump{Rho: s.Clumped(s.Threshold).Clump}
	}
	if k := p.Clumping.K; k != nil && p.Clumping.Taylor == nil && p.Clumping.Iwao == nil {
		return clump{K: &k.Low}
	}
	return clump{Taylor: p.Clumping.Taylor, Iwao: p.Clumping.Iwao}
}

func newComingBack(b *plans.ComingBack) *comingBack {
	if b == nil {
		return nil
	}
	confidence := cmp.Or(b.Confidence, plans.DefaultComingBack.Confidence) // 0 in older plans
	return &comingBack{
		UntilFound: b.DaysUntilFound, OnceFound: b.DaysOnceFound, Lead: b.LeadDays, Growth: b.GrowthPerDay,
		Z: distuv.UnitNormal.Quantile(confidence),
	}
}
