package rule

// WithSign returns what a rule does that acts by the table only where a further
// sign allows it, and else leaves. met gives the chance, by stop from 1, that the
// sign allows it there, independently of the counts given the field; nil is a rule
// without a sign. Where met is NaN so are the chances of the verdicts, unless the
// table never acts; how far one walks does not depend on the sign.
func (e Evaluation) WithSign(met func(stop int) float64) Evaluation {
	if met == nil {
		return e
	}
	w := e
	w.Act, w.Leave, w.Stops = 0, 0, make([]Outcome, len(e.Stops))
	for j, o := range e.Stops {
		if o.Act > 0 {
			m := met(j + 1)
			o.Leave, o.Act = o.Leave+o.Act*(1-m), o.Act*m
		}
		w.Stops[j] = o
		w.Act += o.Act
		w.Leave += o.Leave
	}
	return w
}
