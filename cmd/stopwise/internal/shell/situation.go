package shell

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// Situation holds the flags that state a design problem, in place of a protocol
// or beside one.
type Situation struct {
	Lower, Upper, LowerMean, UpperMean *Option[float64]
	Threshold                          *Option[string] // a level between the bounds
	Needless, Missed                   *Option[float64]
	Plants                             *Option[plantsChoice]
	MinStops, MaxStops                 *Option[int]
	Rho, K, CountRho                   *Option[plans.Range]
	Taylor                             *Option[plans.Taylor]
	Iwao                               *Option[plans.Iwao]
	Leaves                             *Option[int]
	HoldUnder                          *Option[plans.HoldUnder]
	Counting                           *Option[string]
	Cap, Points                        *Option[int] // 0 is auto
	Walk, Plant                        *Option[float64]
	WithoutLaw                         bool // means per leaf need no k: something else says how they vary
	WithoutCounting                    bool // the counts of a stop are not added up: their correlation is not needed
	WithoutStops                       bool // something else says at which stops verdicts come
	asked                              bool // the protocol asks for the best number of plants
}

// plantsChoice is a number of plants per stop, or 0 for auto.
type plantsChoice int

func NewSituation() *Situation {
	return &Situation{
		Lower: LowerFlag(), Upper: UpperFlag(), LowerMean: LowerMeanFlag(), UpperMean: UpperMeanFlag(),
		Threshold: NewOption("threshold", "`LEVEL` action threshold, between the bounds: a share, or a mean per leaf where the bounds are", NotEmpty).WithoutValue("the middle of the bounds"),
		Needless:  NeedlessRiskFlag(), Missed: MissedRiskFlag(),
		Plants: NewOption("plants-per-stop", "`COUNT` plants examined at each stop, or auto for the number at which visits take the fewest minutes",
			func(s string) (plantsChoice, error) {
				if strings.TrimSpace(s) == "auto" {
					return 0, nil
				}
				n, err := Whole(1, protocol.MaxPlants)(s)
				if err != nil {
					err = fmt.Errorf("%w, or auto", err)
				}
				return plantsChoice(n), err
			}).WithoutValue("20"),
		MinStops: MinStopsFlag().WithoutValue("4"), MaxStops: MaxStopsFlag().WithoutValue("20"),
		Rho: RhoFlag(), K: KFlag(), CountRho: CountRhoFlag(), Taylor: TaylorFlag(), Iwao: IwaoFlag(), Leaves: LeavesFlag(),
		HoldUnder: NewOption("hold-under", "`WORLDS` in which the risks must be kept besides: any of patches,overlooked=5%,false-finds=1%", plans.ParseHoldUnder),
		Counting:  ChoiceFlag("counting", "`HOW` stops count: total, capped or points", Texts(protocol.Countings)...).WithoutValue("total"),
		Cap:       autoFlag("cap", "`COUNT` that a stop counts at most, or auto for the best; looking may end there (with --counting capped)", protocol.MaxPlants),
		Points:    autoFlag("points", "most `POINTS` of a stop, or auto for the best (with --counting points)", protocol.MostPoints).WithoutValue("12"),
		Walk:      WalkMinutesFlag().WithoutValue("3"), Plant: PlantMinutesFlag().WithoutValue("0.25"),
	}
}

func (s *Situation) Flags() []cli.Flag {
	return []cli.Flag{s.Lower, s.Upper, s.LowerMean, s.UpperMean, s.Threshold, s.Needless, s.Missed, s.Plants,
		s.MinStops, s.MaxStops, s.Rho, s.K, s.Taylor, s.Iwao, s.CountRho, s.Leaves, s.HoldUnder, s.Counting, s.Cap, s.Points, s.Walk, s.Plant}
}

// Auto reports whether the plants per stop are to be searched for: by the flag, or
// by the protocol, once it was read.
func (s *Situation) Auto() bool { return s.asked || s.Plants.Set && s.Plants.Value == 0 }

// Protocol returns the protocol that the flags alone state: one unnamed stage.
func (s *Situation) Protocol() (plans.Protocol, error) {
	var p plans.Protocol
	st := plans.Stage{Measure: plans.ShareInfested, Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.DefaultStop}
	low, high := s.Lower, s.Upper
	if s.LowerMean.Set || s.UpperMean.Set {
		st.Measure, low, high = plans.MeanPerLeaf, s.LowerMean, s.UpperMean
		if err := errors.Join(Exclusive(s.Lower, s.LowerMean), Exclusive(s.Upper, s.UpperMean)); err != nil {
			return p, err
		}
	}
	if err := Required(low, high, s.Needless, s.Missed); err != nil {
		return p, err
	}
	if err := Below(low, high); err != nil {
		return p, err
	}
	st.Lower, st.Upper = low.Value, high.Value
	st.Threshold = plans.Middle(st.Lower, st.Upper)
	st.NeedlessRisk, st.MissedRisk = s.Needless.Value, s.Missed.Value
	if s.Threshold.Set {
		levels, err := ParseLevels(s.Threshold.Name, st.Measure, []string{s.Threshold.Value})
		if err != nil {
			return p, err
		}
		st.Threshold = levels[0]
	} else {
		p.Defaults = []string{"threshold = " + report.Level(st.Measure, st.Threshold) + " (the middle of the bounds)"}
	}
	p.Stages = []plans.Stage{st}
	s.Override(&p)
	st = p.Stages[0]
	for _, d := range []struct {
		set  bool
		text string
	}{
		{s.Plants.Set, "plants per stop = 20"}, {s.MinStops.Set || s.WithoutStops, "minimum stops = " + strconv.Itoa(st.Stop.Minimum)},
		{s.MaxStops.Set || s.WithoutStops, "maximum stops = " + strconv.Itoa(st.Stop.Maximum)},
		{s.Walk.Set, "minutes to walk to a stop = 3"}, {s.Plant.Set, "minutes per plant = 0.25"},
	} {
		if !d.set {
			p.Defaults = append(p.Defaults, d.text)
		}
	}
	if st.Measure == plans.ShareInfested && st.Clumping.Rho == nil {
		return p, UsageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	}
	if s.WithoutLaw {
		return p, nil
	}
	if _, ok := st.Clumping.Law(st.Measure); !ok {
		return p, UsageHint("give one, such as --k 0.8", "--k, --taylor and --iwao are missing")
	}
	if st.Measure == plans.MeanPerLeaf && st.Clumping.CountRho == nil && !s.WithoutCounting {
		return p, UsageHint(CountRhoHint, "--count-rho is missing")
	}
	return p, s.check(p)
}

// check returns what is wrong with a protocol, as far as it is needed.
func (s *Situation) check(p plans.Protocol) error {
	if s.WithoutCounting {
		p = p.Each(func(t *plans.Stage) { t.Clumping.CountRho = &plans.Range{} })
	}
	return p.Check()
}

// Override puts the flags in place of what a protocol says.
func (s *Situation) Override(p *plans.Protocol) {
	one := len(p.Stages) == 1 && p.Stages[0].Name == ""
	*p = p.Each(func(t *plans.Stage) {
		if s.Plants.Set && !s.Auto() {
			t.Stop.Plants = int(s.Plants.Value)
		}
		Put(s.MinStops, &t.Stop.Minimum)
		Put(s.MaxStops, &t.Stop.Maximum)
		if s.MaxStops.Set && !s.MinStops.Set && one {
			t.Stop.Minimum = min(t.Stop.Minimum, t.Stop.Maximum)
		}
		Put(s.Walk, &t.Stop.WalkMinutes)
		Put(s.Plant, &t.Stop.PlantMinutes)
		Put(s.Leaves, &t.Unit.Leaves)
		Put(s.HoldUnder, &t.HoldUnder)
		s.count(&t.Stop)
		c := &t.Clumping
		if s.Rho.Set {
			c.Rho = &s.Rho.Value
		}
		if s.K.Set || s.Taylor.Set || s.Iwao.Set {
			*c = c.WithCounts(plans.Law{})
		}
		if s.K.Set {
			c.K = &s.K.Value
		}
		if s.Taylor.Set {
			c.Taylor = &s.Taylor.Value
		}
		if s.Iwao.Set {
			c.Iwao = &s.Iwao.Value
		}
		if s.CountRho.Set {
			c.CountRho = &s.CountRho.Value
		}
	})
}

// count puts the flags of counting in place of what a stage says; a cap or points
// alone say the way of counting too.
func (s *Situation) count(t *plans.StopRules) {
	for _, way := range []struct {
		set bool
		way plans.Counting
	}{{s.Counting.Set, plans.Counting(s.Counting.Value)}, {s.Cap.Set && !s.Counting.Set, plans.CountCapped}, {s.Points.Set && !s.Counting.Set, plans.CountPoints}} {
		if way.set && way.way != t.Counting {
			t.SetCounting(way.way)
		}
	}
	Put(s.Cap, &t.Cap)
	Put(s.Points, &t.Points)
}

// autoFlag returns a flag of a whole number, or auto, which is 0.
func autoFlag(name, usage string, most int) *Option[int] {
	return NewOption(name, usage, func(s string) (int, error) {
		if strings.TrimSpace(s) == protocol.Auto {
			return 0, nil
		}
		n, err := Whole(1, most)(s)
		if err != nil {
			err = fmt.Errorf("%w, or auto", err)
		}
		return n, err
	})
}

func Put[T any](o *Option[T], to *T) {
	if o.Set {
		*to = o.Value
	}
}

// Read returns the protocol of the command line: a file with the flags put over
// it, or the flags alone.
func (s *Situation) Read(e Env, c *cli.Context) (plans.Protocol, error) {
	switch c.NArg() {
	case 0:
		return s.Protocol()
	case 1:
	default:
		return plans.Protocol{}, UsageError("%s takes one protocol, not %d arguments", c.Command.Name, c.NArg())
	}
	file := c.Args().First()
	if err := NoneOf("goes without a protocol; each stage of "+file+" has its own", s.Lower, s.Upper, s.LowerMean, s.UpperMean, s.Threshold, s.Needless, s.Missed); err != nil {
		return plans.Protocol{}, err
	}
	p, err := readProtocol(e, file)
	if err != nil {
		return p, err
	}
	s.asked = p.AutoPlants && !s.Plants.Set
	p.AutoPlants = false
	s.Override(&p)
	return p, s.check(p)
}
