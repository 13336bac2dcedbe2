package sizing

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/sampling/size"
)

// none turns detect round: what can be there although none was found.
func (f *detectFlags) none() (report.Output, error) {
	rho, source, err := f.rhoFor()
	if err != nil {
		return report.Output{}, err
	}
	res, err := size.NoneFound(size.NoneFoundRequest{
		Stops: f.noneIn.Value, PlantsPerStop: f.plants.Value, Confidence: f.confidence.Value,
		Rho: rho, Seen: f.seen.Value, FieldPlants: f.field.Value, At: f.at.Value,
	})
	if err != nil {
		return report.Output{}, err
	}
	g := noneGrounds(res, source)
	g.defaults(f.plants)
	return noneOutput(res, g), nil
}

type upperJSON struct {
	Upper float64 `json:"upper"`
}

type noneJSON struct {
	sizeHead
	MostInfested *int             `json:"most_infested_in_field"`
	Points       []size.NonePoint `json:"points"`
	sizeTail
}

type noneRow struct {
	Value    float64   `json:"value"`
	Assumed  bool      `json:"assumed"`
	Achieved upperJSON `json:"achieved"`
}

// noneLine is the answer as CSV: on one line, the request beside the result, where JSON
// keeps them apart.
type noneLine struct {
	sizeLine
	Confidence   float64 `json:"confidence"`
	Seen         float64 `json:"seen"`
	FieldPlants  *int    `json:"field_plants"`
	Upper        float64 `json:"upper"`
	MostInfested *int    `json:"most_infested"`
}

func noneOutput(res size.NoneFoundResult, g grounds) report.Output {
	r := res.Request
	j := noneJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size detect none", Version: 1},
			Stops:    r.Stops, Plants: res.Plants, PlantsPerStop: r.PlantsPerStop,
			Achieved:  upperJSON{res.Upper},
			Requested: detectAsked{nil, r.Confidence, r.Rho, r.Seen, report.OrNull(r.FieldPlants, 0)},
		},
		sizeTail: g.tail(&sensitivityJSON{Of: res.Sensitivity.Of}),
	}
	if r.FieldPlants > 0 {
		j.MostInfested = &res.MostInfested
	}
	j.Points = res.Points
	for _, s := range res.Sensitivity.Rows {
		j.Sensitivity.Rows = append(j.Sensitivity.Rows, noneRow{s.Value, s.Assumed, upperJSON{s.Reached}})
	}
	return report.Output{Doc: noneDocument(res, g), Records: report.RecordsOf([]noneLine{{sizeLine{r.Stops, res.Plants, r.PlantsPerStop, r.Rho}, r.Confidence, r.Seen, report.OrNull(r.FieldPlants, 0), res.Upper, j.MostInfested}}), JSON: j}
}

func noneDocument(res size.NoneFoundResult, g grounds) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading(fmt.Sprintf("None found at %s", say.StopsOf(r.Stops, r.PlantsPerStop)))
	switch {
	case res.Upper == 1 && res.MostInfested == r.FieldPlants:
		d.Para("None in %s rules nothing out at %s confidence.", report.Count(res.Plants, "plant", "plants"), report.Share(r.Confidence))
	case r.FieldPlants > 0:
		d.Para("None in %s does not mean none: with %s confidence at most %d of the %s of the field are infested (%s).",
			report.Count(res.Plants, "plant", "plants"), report.Share(r.Confidence), res.MostInfested, report.Count(r.FieldPlants, "plant", "plants"), report.Percent(float64(res.MostInfested)/float64(r.FieldPlants)))
	default:
		d.Para("None in %s does not mean none: with %s confidence fewer than %s of the plants of the field are infested.",
			report.Count(res.Plants, "plant", "plants"), report.Share(r.Confidence), report.Percent(res.Upper))
	}
	t := report.NewTable("How often such a visit shows none (exact).", ">true share", ">none found in")
	for _, p := range res.Points {
		t.Add(report.Share(p.Share), report.Percent(p.None))
	}
	d.Table(t)
	s := report.NewTable("", ">", ">fewer than", "")
	s.Caption, s.Columns[0].Head = detectSensitivity(res.Sensitivity.Of)
	for _, row := range res.Sensitivity.Rows {
		s.Add(detectValue(res.Sensitivity.Of, row.Value), report.Percent(row.Reached), takenHere(row.Assumed))
	}
	d.Table(s)
	g.tell(d)
	return d
}
