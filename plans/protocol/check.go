package protocol

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Limits on the size of a plan: far above any field practice, and small enough
// that every design is computed in reasonable time.
const (
	MaxPlants = 10000 // examined at a stop
	MaxStops  = 1000
	MaxLeaves = 1000 // examined on a plant
	MaxTally  = 1000000
	// MaxInsects is how many insects a visit may bring at the upper bound.
	MaxInsects = 250000
)

const countRhoKey = "count_rho"

// Check returns all that is wrong with the protocol, as FieldErrors joined. Means
// per leaf need a correlation of the counts, which [Read] does not ask for.
func (p Protocol) Check() error {
	var errs []error
	said := map[string]bool{}
	for _, f := range p.faults() {
		if key := f.key(f.Path); !said[key] {
			said[key] = true
			errs = append(errs, &f.FieldError)
		}
	}
	return errors.Join(errs...)
}

// Check returns all that is wrong with the terms of one stage, as FieldErrors
// joined.
func (t Terms) Check() error { return Protocol{Stages: []Terms{t}}.Check() }

// A fault is an error of a stage: where its path names a key of a section, it may
// come from the stage's own key or from the section of the whole protocol.
type fault struct {
	FieldError
	stage int // -1 for none
	// once marks a fault that is said once for a key, whatever its words.
	once bool
	// later marks a fault that a protocol may have until something is made from it: a
	// flag may still mend it, and not everything needs it.
	later bool
}

// key is the same for faults that say the same.
func (f fault) key(path string) string {
	if f.once {
		return path
	}
	return path + "\n" + f.Error()
}

type checker struct {
	faults []fault
	stage  int
	name   string // of the stage
	// open says that a season is promised: risks can be any chance, and what is 0 is
	// still to be chosen.
	open bool
}

func (c *checker) put(e FieldError, once bool) {
	e.Stage = c.name
	c.faults = append(c.faults, fault{FieldError: e, stage: c.stage, once: once})
}

func (c *checker) add(path, format string, args ...any) {
	c.put(FieldError{Path: path, Message: fmt.Sprintf(format, args...)}, false)
}

func (c *checker) wrong(path, quantity string, value any, accepted string) {
	c.put(FieldError{Path: path, Quantity: quantity, Value: value, Accepted: accepted}, false)
}

func (c *checker) between(path, what string, x, low, high int) {
	if x < low || x > high {
		c.wrong(path, what, x, fmt.Sprintf("a whole number from %d to %d", low, high))
	}
}

func (c *checker) positive(path, what string, x float64, zero bool) {
	switch {
	case zero && !(x >= 0 && !math.IsInf(x, 1)):
		c.wrong(path, what, x, "a number of 0 or more")
	case !zero && !(x > 0 && !math.IsInf(x, 1)):
		c.wrong(path, what, x, "a number above 0")
	}
}

func (c *checker) share(path, what string, x float64) {
	if !(x >= 0 && x <= 1) {
		c.wrong(path, what, x, "a share between 0% and 100%")
	}
}

// faults returns all that is wrong, stage by stage.
func (p Protocol) faults() []fault {
	c := checker{stage: -1, open: p.Seasonal != nil}
	for i, t := range p.Stages {
		c.stage, c.name = i, t.Name
		c.sections(t)
	}
	c.stage, c.name = -1, ""
	if len(p.Stages) == 0 {
		c.add("stage", "no growth stage; add a [[stage]] with its bounds and risks")
	}
	seen := map[string]bool{}
	for i, t := range p.Stages {
		c.stage, c.name = i, t.Name
		at := func(key string) string { return fmt.Sprintf("stage.%d.%s", i, key) }
		if name := strings.ToLower(t.Name); seen[name] {
			c.add(at("name"), "stage %q appears twice", t.Name)
		} else {
			seen[name] = true
		}
		c.threshold(at, t)
	}
	c.stage, c.name = -1, ""
	for i, t := range p.Stages {
		c.stage, c.name = i, t.Name
		c.comingBack(t.ComingBack)
	}
	c.stage, c.name = -1, ""
	c.seasonal(p)
	c.costs(p.Costs)
	return c.faults
}

// sections checks what the keys of the protocol's sections say in a stage.
func (c *checker) sections(t Terms) {
	c.between("sample_unit.leaves", "leaves per plant", t.Unit.Leaves, 1, MaxLeaves)
	if t.Unit.Tally != 0 {
		c.between("sample_unit.tally", "tally number", t.Unit.Tally, 1, MaxTally)
	}
	if w := t.Unit.Word; w != "" && (len(strings.Fields(w)) != 1 || len(w) > 40) {
		c.add("sample_unit.unit", "unit is %q; accepted: one word for one unit, such as stem or sweep", w)
	}
	c.Stop(t.Stop)
	c.counting(t)
	k := t.Clumping
	for _, given := range []Clumping{{Rho: k.Rho}, {K: k.K, CountRho: k.CountRho}, {Taylor: k.Taylor}, {Iwao: k.Iwao}} {
		for _, m := range Measures {
			if law, ok := given.Law(m); ok {
				c.law(law)
			}
		}
	}
	if k.CountRho != nil && k.K == nil {
		c.law(Law{Kind: PoissonLaw, CountRho: *k.CountRho})
	}
	c.holdUnder(t)
	laws := 0
	for _, law := range []struct {
		key   string
		given bool
	}{{"k", k.K != nil}, {"taylor", k.Taylor != nil}, {"iwao", k.Iwao != nil}, {"poisson", k.Poisson}} {
		if law.given {
			if laws++; laws == 2 {
				c.add("clumping."+law.key, "more than one of k, taylor, iwao and poisson is given; keep one")
			}
		}
	}
}

// law adds what is wrong with a law.
func (c *checker) law(l Law) {
	var f *FieldError
	if errors.As(l.Check(), &f) {
		e := *f
		e.Path = "clumping." + e.Path
		c.put(e, false)
	}
}

// Stop checks how a field is walked.
func (c *checker) Stop(s StopRules) {
	c.between("stop.plants", "plants per stop", s.Plants, 1, MaxPlants)
	if !c.open || s.Minimum != 0 {
		c.between("stop.minimum_stops", "minimum number of stops", s.Minimum, 1, MaxStops)
	}
	c.between("stop.maximum_stops", "maximum number of stops", s.Maximum, 1, MaxStops)
	if s.Maximum < s.Minimum {
		c.add("stop.maximum_stops", "maximum number of stops %d is below the minimum of %d", s.Maximum, s.Minimum)
	}
	c.positive("stop.walk_minutes", "minutes to walk to a stop", s.WalkMinutes, true)
	c.positive("stop.plant_minutes", "minutes per plant", s.PlantMinutes, true)
}

// Check returns all that is wrong with the rules, as FieldErrors joined.
func (s StopRules) Check() error {
	var c checker
	c.Stop(s)
	var errs []error
	for _, f := range c.faults {
		errs = append(errs, &f.FieldError)
	}
	return errors.Join(errs...)
}

func (c *checker) comingBack(b *ComingBack) {
	if b == nil {
		return
	}
	c.positive("coming_back.days_until_found", "days between visits until found", b.DaysUntilFound, c.open)
	c.positive("coming_back.days_once_found", "days between visits once found", b.DaysOnceFound, c.open)
	c.positive("coming_back.lead_days", "lead days", b.LeadDays, true)
	c.positive("coming_back.growth_per_day", "growth per day", b.GrowthPerDay, true)
	// 0 is the default.
	if !(b.Confidence == 0 || b.Confidence >= 0.5 && b.Confidence < 1) {
		c.wrong("coming_back.confidence", "confidence", share(b.Confidence), "from 50% to below 100%")
	}
}

func (c *checker) costs(k *Costs) {
	if k == nil {
		return
	}
	c.positive("costs.crop_per_ha", "value of the crop per hectare", k.CropPerHa, true)
	c.positive("costs.treatment_per_ha", "cost of a treatment per hectare", k.TreatmentPerHa, true)
	c.positive("costs.scout_per_hour", "cost of a scout's hour", k.ScoutPerHour, true)
	c.positive("costs.field_ha", "hectares of a field", k.FieldHa, false)
	if r := k.Prior; r != nil && r.Check() != nil {
		c.add("costs.prior", "the prior's parameters are %g and %g; accepted: two numbers from 0.1 to 1000", r.A, r.B)
	}
}

// threshold checks the stage's own bounds, risks and sign.
func (c *checker) threshold(at func(string) string, t Terms) {
	if !t.Measure.Known() {
		c.add(at("measure"), "%s", t.Measure.fault())
		return
	}
	form := t.Measure.form()
	law, stated := t.Clumping.Law(t.Measure)
	for _, b := range []struct {
		key string
		x   float64
	}{{"lower", t.Lower}, {"threshold", t.Threshold}, {"upper", t.Upper}} {
		if !t.Measure.Valid(b.x) {
			c.wrong(at(b.key), b.key, b.x, form.accepted)
		}
		if stated && law.FollowsLevel() && b.x > 0 {
			if k := law.K(b.x).Low; !(k >= LeastK) {
				c.put(FieldError{Path: "clumping." + string(law.Kind),
					Message: fmt.Sprintf("%s gives k = %.2g at %s; accepted: from %g up", law.Kind, k, form.text(b.x), LeastK)}, true)
			}
		}
	}
	if !t.Measure.Bounded() {
		leaves := t.Units(t.Stop.Plants) * t.Stop.Maximum
		if insects := t.Upper * float64(leaves); insects > MaxInsects {
			c.add(at("upper"), "%g insects on each of %d leaves are %.0f in a visit; accepted: up to %d; examine fewer leaves, or use a share infested at a tally number", t.Upper, leaves, insects, MaxInsects)
		}
	}
	switch {
	case !stated:
		c.put(FieldError{Path: "clumping." + form.lawKey, Message: fmt.Sprintf(form.missing, t.Name)}, true)
	case law.Counts() && t.Clumping.CountRho == nil:
		c.put(FieldError{Path: "clumping." + countRhoKey, Message: fmt.Sprintf("count_rho is missing, and stage %q adds up the counts of a stop; write count_rho = 0.15 or a range (fit gives it), or 0 if the leaves of a stop are independent", t.Name)}, true)
		c.faults[len(c.faults)-1].later = true
	}
	switch {
	case t.Upper <= t.Lower:
		c.add(at("upper"), "upper bound %s is not above the lower bound %s", form.text(t.Upper), form.text(t.Lower))
	case t.Threshold < t.Lower || t.Threshold > t.Upper:
		c.add(at("threshold"), "threshold %s is not between the bounds %s and %s", form.text(t.Threshold), form.text(t.Lower), form.text(t.Upper))
	}
	for _, r := range []struct {
		key string
		x   float64
	}{{"needless_risk", t.NeedlessRisk}, {"missed_risk", t.MissedRisk}} {
		switch {
		case c.open && r.x >= 0 && r.x < 1:
		case !(r.x > 0 && r.x < 0.5):
			c.wrong(at(r.key), r.key, share(r.x), "above 0% and below 50%")
		}
	}
	if t.Sign != nil {
		if t.Sign.Text == "" {
			c.add(at("sign"), "sign is empty; say what must be seen, or leave the key out")
		}
		c.between(at("sign_stops"), "sign_stops", t.Sign.Stops, 1, t.Stop.Maximum)
		c.share(at("sign_chance"), "sign_chance", t.Sign.Chance)
		c.share(at("sign_chance_lower"), "sign_chance_lower", t.Sign.ChanceLower)
	}
	c.share(at("late_loss"), "late_loss", t.LateLoss)
	c.positive(at("lasts_days"), "days that the stage lasts", t.LastsDays, true)
}
