package size

// sensitivity shows other values of rho, by the exact route where there is one.
func (r ProportionRequest) sensitivity(res ProportionResult) (Sensitivity, error) {
	s := Sensitivity{Of: "rho"}
	chosen := res.Normal.Stops
	if res.Exact != nil {
		chosen = res.Exact.Stops
	}
	for _, rho := range rhosAround(r.Rho, r.PlantsPerStop) {
		q := r
		q.Rho = rho
		row := SensitivityRow{Value: rho, Assumed: rho == r.Rho, Stops: wholeStops(q.unrounded(), q.PlantsPerStop)}
		row.Reached = q.normalHalfWidth(chosen)
		if res.Exact != nil {
			stops, err := q.exactStops(row.Stops)
			if err != nil {
				return s, err
			}
			row.Stops = stops
			if row.Reached, _, err = q.expected(chosen); err != nil {
				return s, err
			}
		}
		if row.Stops > 0 {
			row.Plants = q.plants(row.Stops)
		}
		s.Rows = append(s.Rows, row)
	}
	return s, nil
}
