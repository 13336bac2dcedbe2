package protocol

import "slices"

// A termKey is a key of one of the protocol's sections. Each may stand in a stage
// too and then holds there: a new key is one line here.
type termKey struct {
	section, name string
	read          func(s *section, name string, t *Terms)
	// fallback returns what is taken where the section leaves the key out, to be
	// told; nil where nothing is.
	fallback func(t Terms) any
}

var termKeys = []termKey{
	{"sample_unit", "text", func(s *section, k string, t *Terms) { t.Unit.Text = s.text(k) }, nil},
	{"sample_unit", "leaves", func(s *section, k string, t *Terms) { t.Unit.Leaves = s.wholeOr(k, 0) }, func(t Terms) any { return t.Unit.Leaves }},
	{"sample_unit", "tally", func(s *section, k string, t *Terms) { t.Unit.Tally = s.wholeOr(k, 0) }, nil},
	{"sample_unit", "unit", func(s *section, k string, t *Terms) { t.Unit.Word = s.text(k) }, nil},

	{"stop", "plants", func(s *section, k string, t *Terms) { t.Stop.Plants = s.plants(k, t.Stop.Plants) }, func(t Terms) any { return t.Stop.Plants }},
	{"stop", "minimum_stops", func(s *section, k string, t *Terms) { t.Stop.Minimum = s.wholeOr(k, 0) }, func(t Terms) any { return t.Stop.Minimum }},
	{"stop", "maximum_stops", func(s *section, k string, t *Terms) { t.Stop.Maximum = s.wholeOr(k, 0) }, func(t Terms) any { return t.Stop.Maximum }},
	{"stop", "walk_minutes", func(s *section, k string, t *Terms) { t.Stop.WalkMinutes = s.numberOf(k) }, func(t Terms) any { return t.Stop.WalkMinutes }},
	{"stop", "plant_minutes", func(s *section, k string, t *Terms) { t.Stop.PlantMinutes = s.numberOf(k) }, func(t Terms) any { return t.Stop.PlantMinutes }},
	{"stop", "counting", func(s *section, k string, t *Terms) { s.counting(k, &t.Stop) }, nil},
	{"stop", "cap", func(s *section, k string, t *Terms) { t.Stop.Cap = s.orAuto(k) }, nil},
	{"stop", "points", func(s *section, k string, t *Terms) { t.Stop.Points = s.orAuto(k) }, nil},

	{"clumping", "rho", func(s *section, k string, t *Terms) { t.Clumping.Rho = s.valueRange(k) }, nil},
	{"clumping", "k", func(s *section, k string, t *Terms) { t.Clumping.K = s.valueRange(k) }, nil},
	{"clumping", "taylor", func(s *section, k string, t *Terms) { t.Clumping.Taylor = (*Taylor)(s.pair(k)) }, nil},
	{"clumping", "iwao", func(s *section, k string, t *Terms) { t.Clumping.Iwao = (*Iwao)(s.pair(k)) }, nil},
	{"clumping", "poisson", func(s *section, k string, t *Terms) { t.Clumping.Poisson = s.truth(k) }, nil},
	{"clumping", "count_rho", func(s *section, k string, t *Terms) { t.Clumping.CountRho = s.valueRange(k) }, nil},
	{"clumping", "source", func(s *section, k string, t *Terms) { t.Clumping.Source = s.text(k) }, nil},

	{"hold_under", "patches", func(s *section, k string, t *Terms) { t.HoldUnder.Patches = s.truth(k) }, nil},
	{"hold_under", "overlooked", func(s *section, k string, t *Terms) { t.HoldUnder.Overlooked = s.share(k) }, nil},
	{"hold_under", "false_finds", func(s *section, k string, t *Terms) { t.HoldUnder.FalseFinds = s.share(k) }, nil},

	{"coming_back", "days_until_found", func(s *section, k string, t *Terms) { t.back().DaysUntilFound = s.numberOf(k) }, func(t Terms) any { return t.ComingBack.DaysUntilFound }},
	{"coming_back", "days_once_found", func(s *section, k string, t *Terms) { t.back().DaysOnceFound = s.numberOf(k) }, func(t Terms) any { return t.ComingBack.DaysOnceFound }},
	{"coming_back", "lead_days", func(s *section, k string, t *Terms) { t.back().LeadDays = s.numberOf(k) }, func(t Terms) any { return t.ComingBack.LeadDays }},
	{"coming_back", "growth_per_day", func(s *section, k string, t *Terms) { t.back().GrowthPerDay = s.numberOf(k) }, func(t Terms) any { return t.ComingBack.GrowthPerDay }},
	{"coming_back", "confidence", func(s *section, k string, t *Terms) { t.back().Confidence = s.share(k) }, func(t Terms) any { return share(t.ComingBack.Confidence) }},
}

// leaveOpen leaves the key of the terms to be chosen.
func (k termKey) leaveOpen(t *Terms) {
	switch k.name {
	case "minimum_stops":
		t.Stop.Minimum = 0
	case "days_until_found":
		t.back().DaysUntilFound = 0
	case "days_once_found":
		t.back().DaysOnceFound = 0
	}
}

// back returns what the terms say of coming back, to be changed.
func (t *Terms) back() *ComingBack {
	if t.ComingBack == nil {
		own := DefaultComingBack
		t.ComingBack = &own
	}
	return t.ComingBack
}

// lawsOfCounts are the keys of which one is given: a stage's own replaces the
// protocol's.
var lawsOfCounts = []string{"k", "taylor", "iwao", "poisson"}

// readTerms reads the keys of one section.
func readTerms(s *section, name string, t *Terms) {
	for _, k := range termKeys {
		switch {
		case k.section != name:
		case s.has(k.name):
			k.read(s, k.name, t)
		case s.r.open && slices.Contains(openKeys, k.name):
			k.leaveOpen(t)
		case k.fallback != nil:
			s.r.tookDefault(s.at(k.name), k.fallback(*t))
		}
	}
}

// ownTerms reads the keys of sections that a stage has itself.
func ownTerms(s *section, t *Terms) {
	if t.ComingBack != nil {
		own := *t.ComingBack
		t.ComingBack = &own
	}
	none := t.ComingBack == nil
	if slices.ContainsFunc(lawsOfCounts, s.has) {
		t.Clumping = t.Clumping.WithCounts(Law{})
	}
	for _, k := range termKeys {
		if s.has(k.name) {
			k.read(s, k.name, t)
		}
	}
	if none && t.ComingBack != nil {
		for _, k := range termKeys {
			switch {
			case k.section != "coming_back" || s.has(k.name):
			case s.r.open && slices.Contains(openKeys, k.name):
				k.leaveOpen(t)
			default:
				s.r.tookDefault(s.at(k.name), k.fallback(*t))
			}
		}
	}
}

// plants reads the plants per stop, or "auto" for those that are to be searched
// for: one number for all stages, so that a stage cannot ask for it.
func (s *section) plants(key string, fallback int) int {
	v, _ := s.get(key)
	_, isText := v.(string)
	switch {
	case isText && v != "auto" && s.path == "stop":
		s.wrong(key, `a whole number, without quotes, or "auto" for the one with the shortest visits`)
	case v != "auto":
		return s.wholeOr(key, 0)
	case s.path != "stop":
		s.r.fail(s.at(key), `plants = "auto" is accepted in [stop] only: one number is found for all stages`)
	default:
		s.r.autoPlants = true
	}
	return fallback
}

// stage reads a stage. What it does not say itself is taken from common.
func (r *reader) stage(i int, s *section, common Terms) Terms {
	t := common
	t.Name, t.Measure = s.text("name"), Measure(s.text("measure"))
	if !r.open || s.has("needless_risk") || s.has("missed_risk") {
		t.NeedlessRisk, t.MissedRisk = s.share("needless_risk"), s.share("missed_risk")
	}
	r.stageName = t.Name
	if _, isText := s.values["name"].(string); t.Name == "" && (isText || !s.has("name")) {
		r.fail(s.at("name"), "stage without a name; add name = \"leafing\" or the like")
	}
	if t.Measure == "" {
		t.Measure = Measures[0]
		r.tookDefault(s.path+".measure", t.Measure)
	}
	form := t.Measure.form()
	switch {
	case !t.Measure.Known():
		// What its bounds are in is not known; they are not faulty for that.
		for _, key := range []string{"lower", "threshold", "upper"} {
			s.used[key] = true
		}
		r.unknown(s.at("measure"), string(t.Measure), names(Measures), "%s", t.Measure.fault())
	case s.has("threshold"):
		t.Lower, t.Threshold, t.Upper = form.read(s, "lower"), form.read(s, "threshold"), form.read(s, "upper")
	default:
		t.Lower, t.Upper = form.read(s, "lower"), form.read(s, "upper")
		t.Threshold = Middle(t.Lower, t.Upper)
		r.tookDefault(s.path+".threshold", form.text(t.Threshold)+" (the middle of the bounds)")
	}
	if s.has("late_loss") {
		t.LateLoss = s.share("late_loss")
	}
	if s.has("lasts_days") {
		t.LastsDays = s.required("lasts_days")
	}
	s.sign(&t)
	ownTerms(s, &t)
	return t
}

// sign reads the further sign of a stage.
func (s *section) sign(t *Terms) {
	if s.has("sign") {
		t.Sign = &Sign{Text: s.text("sign"), Stops: s.whole("sign_stops", 1)}
	}
	for _, k := range []struct {
		name string
		read func()
	}{
		{"sign_chance", func() { t.Sign.Chance = s.share("sign_chance") }},
		{"sign_chance_lower", func() { t.Sign.ChanceLower = s.share("sign_chance_lower") }},
		{"sign_absent", func() { t.Sign.Absent = s.truth("sign_absent") }},
		{"sign_stops", func() {}}, // read with the sign
	} {
		switch {
		case !s.has(k.name):
		case t.Sign == nil:
			s.r.fail(s.at(k.name), "%s without sign; say in sign what must be seen", k.name)
		default:
			k.read()
		}
	}
}
