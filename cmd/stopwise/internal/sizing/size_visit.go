package sizing

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/size"
)

// visit turns classify round: what given stops can tell.
func (f *classifyFlags) visit() (report.Output, error) {
	for _, err := range []error{
		shell.Exclusive(f.stops, f.minStops), shell.Exclusive(f.stops, f.maxStops), shell.Exclusive(f.actAt, f.actNumber), shell.Required(f.needless, f.missed), f.pair(),
	} {
		if err != nil {
			return report.Output{}, err
		}
	}
	rho, source, err := f.clumping()
	if err != nil {
		return report.Output{}, err
	}
	res, err := size.Visit(size.VisitRequest{
		Stops: f.stops.Value, PlantsPerStop: f.plants.Value, Rho: rho,
		Act: f.actNumber.Value, ActShare: f.actAt.Value, Lower: f.lower.Value, Upper: f.upper.Value,
		NeedlessRisk: f.needless.Value, MissedRisk: f.missed.Value, At: f.at.Value,
	})
	if err != nil {
		return report.Output{}, err
	}
	g := visitGrounds(res, source)
	g.defaults(f.plants)
	return visitOutput(res, g), nil
}

// pair checks that the rule of a visit, or both bounds, are there.
func (f *classifyFlags) pair() error {
	switch {
	case f.lower.Set || f.upper.Set:
		if err := shell.Required(f.lower, f.upper); err != nil {
			return err
		}
		return shell.Below(f.lower, f.upper)
	case !f.actAt.Set && !f.actNumber.Set:
		return shell.UsageHint("give --act-at, or --lower and --upper", "it is not said when to act")
	}
	return nil
}

type visitAsked struct {
	Lower *float64 `json:"lower"`
	Upper *float64 `json:"upper"`
	bothRisks
	Rho float64 `json:"rho"`
}

type visitBest struct {
	Act int `json:"act"`
	bothRisks
}

type visitJSON struct {
	sizeHead
	Act           int               `json:"act"`
	Tells         *bool             `json:"can_tell"`
	Best          *visitBest        `json:"best_act"`
	Band          *size.Band        `json:"band"`
	Narrowest     *size.Band        `json:"narrowest_band"`
	LeastUpper    *size.Band        `json:"band_from_lower"`
	GreatestLower *size.Band        `json:"band_to_upper"`
	Points        []size.VisitPoint `json:"points"`
	sizeTail
}

type visitRow struct {
	Value   float64   `json:"value"`
	Assumed bool      `json:"assumed"`
	Band    size.Band `json:"band"`
}

func visitOutput(res size.VisitResult, g grounds) report.Output {
	r := res.Request
	asked := visitAsked{bothRisks: bothRisks{r.NeedlessRisk, r.MissedRisk}, Rho: r.Rho}
	j := visitJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size classify visit", Version: 1},
			Stops:    r.Stops, Plants: res.Plants, PlantsPerStop: r.PlantsPerStop,
		},
		Act: res.Act, Band: &res.Own, Narrowest: res.Narrowest, Points: res.Points,
		sizeTail: g.tail(&sensitivityJSON{Of: "rho"}),
	}
	if b := res.Bounds; b != nil {
		asked.Lower, asked.Upper = &r.Lower, &r.Upper
		j.Achieved = bothRisks{b.NeedlessRisk, b.MissedRisk}
		j.Tells = &b.Tells
		j.Best = &visitBest{b.Best.Cutoff + 1, bothRisks{b.Best.NeedlessRisk, b.Best.MissedRisk}}
		j.LeastUpper, j.GreatestLower = b.LeastUpper, b.GreatestLower
	}
	j.Requested = asked
	if res.Bounds == nil {
		j.Achieved = j.Band
	}
	for _, s := range res.Sensitivity {
		j.Sensitivity.Rows = append(j.Sensitivity.Rows, visitRow{s.Rho, s.Assumed, s.Band})
	}
	return report.Output{Doc: visitDocument(res, g), Records: report.RecordsOf(j.Points), JSON: j}
}

func visitDocument(res size.VisitResult, g grounds) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading("What " + say.StopsOf(r.Stops, r.PlantsPerStop) + " can tell")
	if res.Bounds != nil {
		boundsSentences(d, res)
	} else {
		d.Para("%s, acting at %s, tell %s from %s and nothing closer: a field at the first is treated in %s of visits, one at the second is left in %s, and between them either verdict is likely.",
			say.StopsOf(r.Stops, r.PlantsPerStop), actWords(res.Act, res.Plants), report.Percent(res.Own.Lower), report.Percent(res.Own.Upper), report.Share(r.NeedlessRisk), report.Share(r.MissedRisk))
	}
	if n := res.Narrowest; n != nil {
		around := float64(res.Act) / float64(res.Plants)
		if r.ActShare > 0 {
			around = r.ActShare
		}
		if n.Act == res.Act {
			d.Para("Around %s no other act number tells closer shares apart.", report.Percent(around))
		} else {
			d.Para("The closest shares around %s that any act number tells apart are %s and %s (acting at %d or more).",
				report.Percent(around), report.Percent(n.Lower), report.Percent(n.Upper), n.Act)
		}
	}
	t := report.NewTable("What the visit does in fields of each true share (exact).", ">true share", ">act", ">leave")
	for _, p := range res.Points {
		t.Add(report.Share(p.Share), report.Percent(p.Act), report.Percent(p.Leave))
	}
	d.Table(t)
	d.Table(bandTable(res))
	g.tell(d)
	return d
}

// bandTable shows what the rule tells apart at other values of rho.
func bandTable(res size.VisitResult) *report.Table {
	r := res.Request
	t := report.NewTable("If the plants of a stop are more or less alike than taken here: the shares that the same visit tells apart.",
		">rho", ">tells", ">from")
	if res.Bounds != nil {
		t.Head(">act at "+report.Share(r.Lower), ">leave at "+report.Share(r.Upper))
	}
	t.Head("")
	for _, s := range res.Sensitivity {
		row := []string{report.Constant(s.Rho), report.Percent(s.Band.Lower), report.Percent(s.Band.Upper)}
		if res.Bounds != nil {
			row = append(row, report.Percent(s.NeedlessRisk), report.Percent(s.MissedRisk))
		}
		t.Add(append(row, takenHere(s.Assumed))...)
	}
	return t
}

// boundsSentences say whether the visit can tell the bounds apart.
func boundsSentences(d *report.Document, res size.VisitResult) {
	r, b := res.Request, res.Bounds
	stops := say.StopsOf(r.Stops, r.PlantsPerStop)
	risks := fmt.Sprintf("risks of %s and %s", report.Share(r.NeedlessRisk), report.Share(r.MissedRisk))
	visit := fmt.Sprintf("acting at %s, a field at %s is treated needlessly in %s of visits and one at %s is missed in %s",
		actWords(res.Act, res.Plants), report.Share(r.Lower), report.Percent(b.NeedlessRisk), report.Share(r.Upper), report.Percent(b.MissedRisk))
	tell := fmt.Sprintf("tell %s from %s at %s", report.Share(r.Lower), report.Share(r.Upper), risks)
	switch act := b.Best.Cutoff + 1; {
	case !b.Tells:
		d.Para("%s cannot %s: %s. No other act number keeps both risks.", stops, tell, visit)
	case act != res.Act && (b.NeedlessRisk > r.NeedlessRisk || b.MissedRisk > r.MissedRisk):
		d.Para("%s can %s, but not so: %s. Acting at %d or more keeps both risks (%s and %s).", stops, tell, visit, act, report.Percent(b.Best.NeedlessRisk), report.Percent(b.Best.MissedRisk))
	default:
		d.Para("%s can %s: %s.", stops, tell, visit)
	}
	up, down := b.LeastUpper, b.GreatestLower
	switch {
	case up != nil && down != nil:
		d.Para("At these risks it can tell %s from %s (acting at %d or more), or %s from %s (acting at %d or more).",
			report.Percent(up.Lower), report.Percent(up.Upper), up.Act, report.Percent(down.Lower), report.Percent(down.Upper), down.Act)
	case up != nil:
		d.Para("At these risks it can tell %s from %s (acting at %d or more).", report.Percent(up.Lower), report.Percent(up.Upper), up.Act)
	case down != nil:
		d.Para("At these risks it can tell %s from %s (acting at %d or more).", report.Percent(down.Lower), report.Percent(down.Upper), down.Act)
	}
}

// actWords returns "20 or more of the 80 plants infested (25%)".
func actWords(act, plants int) string {
	return fmt.Sprintf("%d or more of the %d plants infested (%s)", act, plants, report.Percent(float64(act)/float64(plants)))
}
