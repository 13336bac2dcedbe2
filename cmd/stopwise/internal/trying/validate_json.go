package trying

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/validate"
)

type validationJSON struct {
	report.Envelope
	Stage        string  `json:"stage"`
	Measure      string  `json:"measure"`
	Lower        float64 `json:"lower"`
	Threshold    float64 `json:"threshold"`
	Upper        float64 `json:"upper"`
	NeedlessRisk float64 `json:"needless_risk"`
	MissedRisk   float64 `json:"missed_risk"`
	// Independent says that the plan takes the leaves of a stop as independent.
	Independent bool              `json:"independent_leaves,omitempty"`
	Visits      int               `json:"visits"`
	Seed        uint64            `json:"seed"`
	Worlds      []worldJSON       `json:"worlds"`
	Holds       []holdJSON        `json:"holds"`
	Walks       []walkJSON        `json:"walks"`
	Data        *dataJSON         `json:"data"`
	Required    []requirementJSON `json:"required"`
}

// chanceJSON has no standard error where the chance is exact.
type chanceJSON struct {
	Value *float64 `json:"value" csv:"."` // null where a chance of the sign is not known
	SE    *float64 `json:"standard_error"`
}

type threeJSON struct {
	Lower     float64 `json:"lower"`
	Threshold float64 `json:"threshold"`
	Upper     float64 `json:"upper"`
}

type worldJSON struct {
	inStage
	World   string             `json:"world"`
	Setting map[string]float64 `json:"setting" csv:"-"`
	Words   string             `json:"-" csv:"setting"` // a cell holds no map
	risksJSON
}

// risksJSON is what a plan does in some world or on some walk.
type risksJSON struct {
	Needless chanceJSON `json:"needless"`
	Missed   chanceJSON `json:"missed"`
	Keeps    *bool      `json:"keeps"` // null where the simulation cannot tell
	Stops    threeJSON  `json:"expected_stops"`
	Minutes  threeJSON  `json:"expected_minutes"`
}

type holdJSON struct {
	World string `json:"world"`
	Name  string `json:"name"`
	Holds *bool  `json:"holds"` // null where a chance of the sign is not known
	// Null beyond what was searched, and where the promise does not hold at all.
	From        *float64 `json:"from"`
	To          *float64 `json:"to"`
	DoubledFrom *float64 `json:"twice_allowed_from"`
	DoubledTo   *float64 `json:"twice_allowed_to"`
}

type walkJSON struct {
	inStage
	Pattern string `json:"pattern"`
	Route   string `json:"route"`
	risksJSON
}

type dataJSON struct {
	Independent bool        `json:"all_fields_independent"` // by the user's word
	Fitted      []string    `json:"left_out_fitted"`
	OtherStage  []string    `json:"left_out_other_stage"`
	Fields      []fieldJSON `json:"fields"`
	Pools       []poolJSON  `json:"pools"`
}

type fieldJSON struct {
	inStage
	Field   string      `json:"field"`
	Stops   int         `json:"stops_seen"`
	Plants  int         `json:"plants_seen"`
	Level   float64     `json:"level"`
	Zone    string      `json:"zone"`
	Act     *float64    `json:"p_act"`
	Leave   *float64    `json:"p_leave"`
	Wrong   *chanceJSON `json:"wrong"` // null between the bounds: either verdict
	Stop    float64     `json:"expected_stops"`
	StopSE  float64     `json:"expected_stops_standard_error"`
	Plant   float64     `json:"expected_plants"`
	Minutes float64     `json:"expected_minutes"`
}

type poolJSON struct {
	Zone   string      `json:"zone"`
	Fields int         `json:"fields"`
	Wrong  *chanceJSON `json:"wrong"` // null without fields and between the bounds
	Stops  *float64    `json:"expected_stops"`
}

type requirementJSON struct {
	Required string      `json:"required"`
	Holds    bool        `json:"holds"`
	Failing  []faultJSON `json:"failing"`
}

type faultJSON struct {
	Line  string   `json:"line"`
	Value *float64 `json:"value"`
	SE    *float64 `json:"standard_error"`
	Open  bool     `json:"too_close_to_call"`
}

func (r *validationResult) json() validationJSON {
	s := r.stage
	j := validationJSON{
		Envelope: report.Envelope{Kind: "stopwise validation", Version: 1},
		Stage:    s.Name, Measure: string(s.Measure), Lower: s.Lower, Threshold: s.Threshold, Upper: s.Upper,
		NeedlessRisk: s.NeedlessRisk, MissedRisk: s.MissedRisk, Independent: s.Independent(), Visits: r.visits, Seed: r.seed,
		Worlds: []worldJSON{}, Holds: []holdJSON{}, Walks: []walkJSON{}, Required: []requirementJSON{},
	}
	for _, v := range r.surveys {
		for _, row := range v.Rows {
			w := worldJSON{inStage{s.Name}, row.World, map[string]float64{}, say.Setting(row),
				risksJSON{jsonChance(row.Needless), jsonChance(row.Missed), keepsOrNull(row.Keeps(s)), jsonThree(row.Stops), jsonThree(row.Minutes)}}
			for _, n := range row.Numbers {
				w.Setting[n.Name] = n.Value
			}
			j.Worlds = append(j.Worlds, w)
		}
		for _, h := range v.Holds {
			j.Holds = append(j.Holds, jsonHold(v.World, h))
		}
	}
	for _, w := range r.walks {
		stops, minutes := w.Effort()
		j.Walks = append(j.Walks, walkJSON{inStage{s.Name}, string(w.Pattern), string(w.Route),
			risksJSON{jsonChance(w.Needless()), jsonChance(w.Missed()), keepsOrNull(w.Keeps(s)), jsonThree(stops), jsonThree(minutes)}})
	}
	if r.data != nil {
		j.Data = r.jsonData()
	}
	for _, q := range uniqueRequirements(r.required) {
		x := requirementJSON{Required: say.Required(q), Holds: true, Failing: []faultJSON{}}
		for _, f := range r.faults {
			if f.Requirement == q {
				x.Holds = false
				x.Failing = append(x.Failing, faultJSON{f.Line, report.Finite(f.Value), report.OrNull(f.SE, 0), f.Standing == validate.Open})
			}
		}
		j.Required = append(j.Required, x)
	}
	return j
}

func (r *validationResult) jsonData() *dataJSON {
	d := &dataJSON{Independent: !r.data.fitted, Fitted: notNull(r.data.split.Fitted), OtherStage: notNull(r.data.split.OtherStage),
		Fields: []fieldJSON{}}
	for _, f := range r.fields {
		stops := f.Visits.MeanStops()
		d.Fields = append(d.Fields, fieldJSON{inStage{r.stage.Name}, f.Name, f.Stops, f.Plants, f.Level, f.Zone.String(),
			report.Finite(f.Visits.ActChance().Value), report.Finite(f.Visits.LeaveChance().Value), wrongJSON(f.Zone, f.Wrong), stops.Value, stops.SE,
			f.Visits.MeanPlants().Value, f.Visits.MeanMinutes().Value})
	}
	for _, p := range validate.Pools(r.fields) {
		x := poolJSON{Zone: p.Zone.String(), Fields: p.Fields}
		if p.Fields > 0 {
			stops := p.Stops.Value
			x.Wrong, x.Stops = wrongJSON(p.Zone, p.Wrong), &stops
		}
		d.Pools = append(d.Pools, x)
	}
	return d
}

func jsonHold(world string, h validate.Hold) holdJSON {
	j := holdJSON{World: world, Name: h.Name}
	if !h.Unknown {
		j.Holds = &h.OK
	}
	if !h.OK {
		return j
	}
	inside := func(x float64) *float64 {
		if x <= h.Searched.Low || x >= h.Searched.High {
			return nil
		}
		return &x
	}
	j.From, j.To = inside(h.Low), inside(h.High)
	j.DoubledFrom, j.DoubledTo = inside(h.Doubled.Low), inside(h.Doubled.High)
	return j
}

func jsonChance(c validate.Chance) chanceJSON { return chanceJSON{report.Finite(c.Value), orNullSE(c)} }

func wrongJSON(z validate.Zone, c validate.Chance) *chanceJSON {
	if z == validate.Between {
		return nil
	}
	j := jsonChance(c)
	return &j
}

func jsonThree(m [3]validate.Mean) threeJSON { return threeJSON{m[0].Value, m[1].Value, m[2].Value} }

func keepsOrNull(s validate.Standing) *bool {
	if s == validate.Open || s == validate.Unknown {
		return nil
	}
	kept := s == validate.Within
	return &kept
}

func notNull(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

// records returns the one table of the result for CSV.
func (j validationJSON) records() *report.Records {
	switch {
	case j.Data != nil:
		return report.RecordsOf(j.Data.Fields)
	case len(j.Walks) > 0:
		return report.RecordsOf(j.Walks)
	}
	return report.RecordsOf(j.Worlds)
}

// inStage names the stage in every row of CSV; JSON says it once.
type inStage struct {
	Stage string `json:"-" csv:"stage"`
}
