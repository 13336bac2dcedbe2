package plans

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A FieldError says what is wrong with one value of a protocol.
type FieldError struct {
	Path    string // for example "stop.plants" or "stage.0.upper"
	Message string
}

func (e *FieldError) Error() string { return e.Message }

// limits on the size of a plan: far above any field practice, and small enough
// that every design is computed in reasonable time.
const (
	maxPlants = 10000
	maxStops  = 1000
	// maxInsects is how many insects a visit may bring at the upper bound.
	maxInsects = 250000
	// leastK is a clumping in which one leaf in a hundred carries all insects.
	leastK = 0.001
)

// Check returns all that is wrong with the protocol, as FieldErrors joined.
func (p Protocol) Check() error {
	var c checker
	c.between("sample_unit.leaves", "leaves per plant", p.Unit.Leaves, 1, 1000)
	if p.Unit.Tally != 0 {
		c.between("sample_unit.tally", "tally number", p.Unit.Tally, 1, 1000000)
	}
	c.between("stop.plants", "plants per stop", p.Stop.Plants, 1, maxPlants)
	c.between("stop.minimum_stops", "minimum number of stops", p.Stop.Minimum, 1, maxStops)
	c.between("stop.maximum_stops", "maximum number of stops", p.Stop.Maximum, 1, maxStops)
	if p.Stop.Maximum < p.Stop.Minimum {
		c.add("stop.maximum_stops", "maximum number of stops %d is below the minimum of %d", p.Stop.Maximum, p.Stop.Minimum)
	}
	c.positive("stop.walk_minutes", "minutes to walk to a stop", p.Stop.WalkMinutes, true)
	c.positive("stop.plant_minutes", "minutes per plant", p.Stop.PlantMinutes, true)
	c.clumping(p.Clumping)
	c.stages(p)
	if b := p.ComingBack; b != nil {
		c.positive("coming_back.days_until_found", "days between visits until found", b.DaysUntilFound, false)
		c.positive("coming_back.days_once_found", "days between visits once found", b.DaysOnceFound, false)
		c.positive("coming_back.lead_days", "lead days", b.LeadDays, true)
		c.positive("coming_back.growth_per_day", "growth per day", b.GrowthPerDay, true)
		if !(b.Confidence == 0 || b.Confidence >= 0.5 && b.Confidence < 1) { // 0 in plans made before there was the key
			c.add("coming_back.confidence", "confidence is %s; accepted: from 50%% to below 100%%", FormatLevel(ShareInfested, b.Confidence))
		}
	}
	if k := p.Costs; k != nil {
		c.positive("costs.crop_per_ha", "value of the crop per hectare", k.CropPerHa, true)
		c.positive("costs.treatment_per_ha", "cost of a treatment per hectare", k.TreatmentPerHa, true)
		c.positive("costs.scout_per_hour", "cost of a scout's hour", k.ScoutPerHour, true)
		c.positive("costs.field_ha", "hectares of a field", k.FieldHa, false)
		if r := k.Prior; r != nil && r.Check() != nil {
			c.add("costs.prior", "the prior's parameters are %g and %g; accepted: two numbers from 0.1 to 1000", r.A, r.B)
		}
	}
	return errors.Join(c.errs...)
}

type checker struct {
	errs []error
	said map[string]bool
}

// once reports whether something has not been said before.
func (c *checker) once(what string) bool {
	if c.said[what] {
		return false
	}
	if c.said == nil {
		c.said = map[string]bool{}
	}
	c.said[what] = true
	return true
}

func (c *checker) add(path, format string, args ...any) {
	c.errs = append(c.errs, &FieldError{path, fmt.Sprintf(format, args...)})
}

func (c *checker) between(path, what string, x, low, high int) {
	if x < low || x > high {
		c.add(path, "%s is %d; accepted: a whole number from %d to %d", what, x, low, high)
	}
}

func (c *checker) positive(path, what string, x float64, zero bool) {
	switch {
	case zero && !(x >= 0 && !math.IsInf(x, 1)):
		c.add(path, "%s is %g; accepted: a number of 0 or more", what, x)
	case !zero && !(x > 0 && !math.IsInf(x, 1)):
		c.add(path, "%s is %g; accepted: a number above 0", what, x)
	}
}

func (c *checker) clumping(k Clumping) {
	if r := k.Rho; r != nil && !(r.Low >= 0 && r.High < 1) {
		c.add("clumping.rho", "rho is %s; accepted: from 0 to below 1", r)
	}
	if r := k.K; r != nil && !(r.Low >= leastK) {
		c.add("clumping.k", "k is %s; accepted: from %g up", r, leastK)
	}
	if t := k.Taylor; t != nil && !(t.A > 0 && t.B > 0) {
		c.add("clumping.taylor", "Taylor's a and b are %g and %g; accepted: both above 0", t.A, t.B)
	}
	if w := k.Iwao; w != nil && !(w.A > -1 && w.B > 0) {
		c.add("clumping.iwao", "Iwao's a and b are %g and %g; accepted: a above -1 and b above 0", w.A, w.B)
	}
	laws := 0
	for _, law := range []struct {
		key   string
		given bool
	}{{"k", k.K != nil}, {"taylor", k.Taylor != nil}, {"iwao", k.Iwao != nil}} {
		if law.given {
			if laws++; laws == 2 {
				c.add("clumping."+law.key, "more than one of k, taylor and iwao is given; keep one")
			}
		}
	}
}

// lawK returns the k that a variance law gives at a mean, and the law's key.
func (k Clumping) lawK(mean float64) (float64, string) {
	switch {
	case k.Taylor != nil:
		return k.Taylor.K(mean), "taylor"
	case k.Iwao != nil:
		return k.Iwao.K(mean), "iwao"
	}
	return math.Inf(1), ""
}

func (c *checker) stages(p Protocol) {
	if len(p.Stages) == 0 {
		c.add("stage", "no growth stage; add a [[stage]] with its bounds and risks")
	}
	seen := map[string]bool{}
	for i, s := range p.Stages {
		at := func(key string) string { return fmt.Sprintf("stage.%d.%s", i, key) }
		if name := strings.ToLower(s.Name); seen[name] {
			c.add(at("name"), "stage %q appears twice", s.Name)
		} else {
			seen[name] = true
		}
		c.stage(at, s, p)
	}
}

func (c *checker) stage(at func(string) string, s Stage, p Protocol) {
	switch s.Measure {
	case ShareInfested:
		for _, b := range []struct {
			key string
			x   float64
		}{{"lower", s.Lower}, {"threshold", s.Threshold}, {"upper", s.Upper}} {
			if !(b.x > 0 && b.x < 1) {
				c.add(at(b.key), "%s is %g; accepted: a share above 0%% and below 100%%", b.key, b.x)
			}
		}
		if p.Clumping.Rho == nil && c.once("rho") {
			c.add("clumping.rho", `rho is missing, and stage %q needs it; write rho = 0.1, or a range such as rho = "0.05..0.2"`, s.Name)
		}
	case MeanPerLeaf:
		for _, b := range []struct {
			key string
			x   float64
		}{{"lower", s.Lower}, {"threshold", s.Threshold}, {"upper", s.Upper}} {
			c.positive(at(b.key), b.key, b.x, false)
			if k, law := p.Clumping.lawK(b.x); b.x > 0 && !(k >= leastK) && c.once(law) {
				c.add("clumping."+law, "%s gives k = %.2g at %s; accepted: from %g up", law, k, FormatLevel(s.Measure, b.x), leastK)
			}
		}
		leaves := p.Stop.Plants * p.UnitsPerPlant(s.Measure) * p.Stop.Maximum
		if insects := s.Upper * float64(leaves); insects > maxInsects {
			c.add(at("upper"), "%g insects on each of %d leaves are %.0f in a visit; accepted: up to %d; examine fewer leaves, or use a share infested at a tally number", s.Upper, leaves, insects, maxInsects)
		}
		if p.Clumping.K == nil && p.Clumping.Taylor == nil && p.Clumping.Iwao == nil && c.once("k") {
			c.add("clumping.k", `k is missing, and stage %q needs it; write k = 0.8 (or taylor = [a, b], or iwao = [a, b])`, s.Name)
		}
	default:
		c.add(at("measure"), "measure is %q; accepted: %q or %q", s.Measure, ShareInfested, MeanPerLeaf)
		return
	}
	show := func(x float64) string { return FormatLevel(s.Measure, x) }
	switch {
	case s.Upper <= s.Lower:
		c.add(at("upper"), "upper bound %s is not above the lower bound %s", show(s.Upper), show(s.Lower))
	case s.Threshold < s.Lower || s.Threshold > s.Upper:
		c.add(at("threshold"), "threshold %s is not between the bounds %s and %s", show(s.Threshold), show(s.Lower), show(s.Upper))
	}
	for _, r := range []struct {
		key string
		x   float64
	}{{"needless_risk", s.NeedlessRisk}, {"missed_risk", s.MissedRisk}} {
		if !(r.x > 0 && r.x < 0.5) {
			c.add(at(r.key), "%s is %s; accepted: above 0%% and below 50%%", r.key, FormatLevel(ShareInfested, r.x))
		}
	}
	if s.Sign != nil {
		if s.Sign.Text == "" {
			c.add(at("sign"), "sign is empty; say what must be seen, or leave the key out")
		}
		c.between(at("sign_stops"), "sign_stops", s.Sign.Stops, 1, p.Stop.Maximum)
		c.share(at("sign_chance"), "sign_chance", s.Sign.Chance)
		c.share(at("sign_chance_lower"), "sign_chance_lower", s.Sign.ChanceLower)
	}
	c.share(at("late_loss"), "late_loss", s.LateLoss)
	c.positive(at("lasts_days"), "days that the stage lasts", s.LastsDays, true)
	if s.Tally != 0 {
		c.between(at("tally"), "tally number", s.Tally, 1, 1000000)
	}
	c.positive(at("plant_minutes"), "minutes per plant", s.PlantMinutes, true)
}

func (c *checker) share(path, what string, x float64) {
	if !(x >= 0 && x <= 1) {
		c.add(path, "%s is %g; accepted: a share between 0%% and 100%%", what, x)
	}
}

// FormatLevel writes a level in the measure's unit: "15%" or "75 per leaf".
func FormatLevel(m Measure, x float64) string {
	if m == MeanPerLeaf {
		return formatShort(x) + " per leaf"
	}
	return formatShort(100*x) + "%"
}

func formatShort(x float64) string {
	if x != 0 && math.Abs(x) < 0.0001 {
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.4f", x), "0"), ".")
}
