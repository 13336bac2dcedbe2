package plans

// JointRisks returns the exact risks of the whole rule of a stage with a further
// sign: act when the count says so and the sign was seen at enough of the stops
// walked, else leave. It is nil where the protocol does not give the chance of
// the sign at a stop. The sign is taken as independent of the counts and from
// stop to stop, given the field. Where the chance in a field at the lower bound
// is not known, the needless risk is that of the count alone, which the sign can
// only lower.
func (s *StagePlan) JointRisks() []Risk {
	if s.Sign == nil || s.Sign.Chance == 0 {
		return nil
	}
	lower, upper := s.Worlds(s.Lower), s.Worlds(s.Upper)
	risks := make([]Risk, len(lower))
	for i := range risks {
		l, u := s.Evaluate(lower[i]), s.Evaluate(upper[i])
		risks[i] = Risk{Clump: lower[i].Value(), Needless: l.Act, Missed: u.Leave + signMissing(*s.Sign, u, s.Sign.Chance)}
		if s.Sign.ChanceLower > 0 {
			risks[i].Needless = withSign(*s.Sign, l, s.Sign.ChanceLower)
		}
	}
	return risks
}

// withSign returns the chance that a visit ends with act and the sign allows it.
func withSign(g Sign, e Evaluation, chance float64) float64 {
	both := 0.0
	for j, o := range e.Stops {
		if o.Act > 0 {
			both += o.Act * g.MetIn(j+1, chance)
		}
	}
	return both
}

// signMissing returns the chance that the count says act and the sign forbids it.
func signMissing(g Sign, e Evaluation, chance float64) float64 {
	g.Absent = !g.Absent
	return withSign(g, e, chance)
}
