package fitting

import (
	"fmt"
	"strconv"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/fit"
)

// section returns the parts of next season's protocol. Stages have their own where
// they do not share a constant, or always.
func (l *learning) section(byStage bool) (string, error) {
	w := &sectionWriter{}
	r := l.records
	w.comment("Fitted by stopwise %s to the visits of %s: %s of %s. Intervals are of %s.", shell.Version, l.file,
		report.Count(len(r.Visits), "visit", "visits"), fieldsText(r.Fields), report.Share(l.confidence))
	any := false
	rho := nextRange("rho", l.clumping.Estimate)
	own := byStage || l.ownClumping()
	if rho != nil && !own {
		any = true
		w.line("[clumping]")
		w.comment("rho: %s; the range is the interval, rounded outwards.", l.carried(l.clumping))
		w.line("rho    = %q", rho)
		w.line("source = %s", strconv.Quote(shell.Printable(l.source(l.clumping, "rho"))))
	}
	growth, grew := nextGrowth(l.growth)
	ownGrowth := byStage || l.ownGrowth()
	if grew && !ownGrowth {
		any = true
		if w.Len() > 0 {
			w.line("")
		}
		w.line("[coming_back]")
		w.comment("growth: %s", growthText(l.growth, l.confidence))
		w.line("growth_per_day = %s", report.Plain(growth))
	}
	for _, s := range l.stages {
		lines := &sectionWriter{}
		clump := s.next()
		if clump != nil && (own || s.key() != "rho") {
			lines.comment("%s: %s; the range is the interval, rounded outwards.", s.key(), l.carried(s.clumping))
			if s.key() != "rho" {
				lines.comment("%s", s.heldText())
			}
			lines.line("%s = %q", s.key(), clump)
			lines.line("source = %s", strconv.Quote(shell.Printable(l.source(s.clumping, s.key()))))
		}
		if g, grew := nextGrowth(s.growth); grew && ownGrowth {
			lines.comment("growth: %s", growthText(s.growth, l.confidence))
			lines.line("growth_per_day = %s", report.Plain(g))
		}
		if lines.Len() == 0 {
			continue
		}
		any = true
		w.line("")
		if s.plan.Name == "" {
			w.comment("For the only stage:")
		} else {
			w.line("[[stage]]")
			w.line("name = %s", strconv.Quote(s.plan.Name))
		}
		w.WriteString(lines.String())
	}
	if !any {
		return "", shell.Failure("the visits of %s carry no constant: rho: %s; growth: %s", l.file, l.clumping.Missing, l.growth.Missing)
	}
	return w.String(), nil
}

// carried says how large a constant is and what it rests on.
func (l *learning) carried(o fit.OverVisits) string {
	return fmt.Sprintf("%s, interval %s, from %s of %s in which the pest was found", rhoNumber(o.Value), interval(o.Estimate, rhoNumber),
		report.Count(o.Visits, "visit", "visits"), fieldsText(o.Fields))
}

func (l *learning) source(o fit.OverVisits, key string) string {
	return fmt.Sprintf("%s, %s of %s: %s", l.file, report.Count(o.Visits, "visit", "visits"), fieldsText(o.Fields), withInterval(key, o.Estimate, l.confidence))
}

// heldText says what k was held at while the correlation of counts was fitted.
func (s *learnedStage) heldText() string {
	law := s.heldLaw()
	if law.FollowsLevel() {
		return "Totals of stops do not tell it apart from k, which was held at the plan's law of the counts."
	}
	return fmt.Sprintf("Totals of stops do not tell it apart from k, which was held at %s, the middle of the plan's range.", number3(law.Range.Low))
}

// growthText returns "0.118 a day, 95% interval 0.103 to 0.131, from 45 fields".
func growthText(g fit.Growth, confidence float64) string {
	if !g.Known() {
		return g.Missing
	}
	s := fmt.Sprintf("%s a day, %s interval %s, from %s with %s", rhoNumber(g.Value), report.Share(confidence), interval(g.Estimate, rhoNumber),
		fieldsText(g.Fields), report.Count(g.Visits, "visit", "visits"))
	if differs(g) {
		s += fmt.Sprintf("; fields differ, with a standard deviation of %s, and the value is what %s of them do not exceed", report.Plain(g.Spread), report.Share(fastFields))
	}
	return s
}
