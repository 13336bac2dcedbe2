// Package laying lays out a plan's stops in a field for the commands that show
// them: in a field whose shape is given, or in one that stands for any.
//
// For most uses, make [Flags], and ask [Flags.Of] for where a plan's stops are.
package laying

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/validate"
	"stopwise/validate/layout"
)

// Flags say in what field stops are laid out.
type Flags struct {
	Size  *shell.Option[layout.Field]
	Field *shell.Option[string]
	Seed  *shell.Option[uint64]
}

// NewFlags returns the flags. field is the name of the one for the boundary's file.
func NewFlags(field string) Flags {
	return Flags{
		Size:  shell.NewOption("size", "`LENGTHxWIDTH` of a field with four right angles in metres, such as 775x516; the scout stands in a corner and looks along the length", parseSize),
		Field: shell.NewOption(field, "`FILE.geojson` the field's boundary: a polygon, with holes for what is not walked, in longitude and latitude", shell.NotEmpty),
		Seed:  shell.SeedFlag(),
	}
}

// List returns the flags as those of a command.
func (f Flags) List() []cli.Flag { return []cli.Flag{f.Size, f.Field, f.Seed} }

// Given reports whether a field is given.
func (f Flags) Given() bool { return f.Size.Set || f.Field.Set }

// Read returns the field that is given.
func (f Flags) Read(e shell.Env) (layout.Field, error) {
	if err := shell.Exclusive(f.Size, f.Field); err != nil {
		return layout.Field{}, err
	}
	if f.Field.Set {
		return shell.ReadField(e, f.Field.Value)
	}
	return f.Size.Value, nil
}

// Lay lays out stops that serve all the stages in the field that is given.
func (f Flags) Lay(e shell.Env, stages []*plans.StagePlan) (*Laid, error) {
	field, err := f.Read(e)
	if err != nil {
		return nil, err
	}
	l, err := Lay(stages, field, f.Seed.Value)
	if err != nil {
		place := "--" + f.Size.Name
		if f.Field.Set {
			place = f.Field.Value
		}
		return nil, shell.InputError(place, err)
	}
	return l, nil
}

// Of returns where the stops of a plan are: in the field that is given, or in one
// that stands for any, walked as the protocol says. It is nil where the protocol
// says in its own words alone how a field is walked, or draws the places anew for
// each visit.
func (f Flags) Of(e shell.Env, r *protocol.Route, stages []*plans.StagePlan) (*Laid, error) {
	kind := ""
	if r != nil {
		kind = r.Kind
	}
	if f.Given() {
		if kind != "" && validate.Route(kind) != validate.Balanced {
			return nil, shell.UsageHint("leave the field out, or name kind = \"balanced\" in the protocol", "stops are laid out in a field for the route balanced; the protocol's is %q", kind)
		}
		return f.Lay(e, stages)
	}
	if f.Seed.Set {
		return nil, shell.UsageError("--%s goes with --%s or --%s", f.Seed.Name, f.Size.Name, f.Field.Name)
	}
	if r != nil && kind == "" || kind == string(validate.Random) {
		return nil, nil
	}
	if kind == "" {
		kind = string(validate.Balanced)
	}
	return general(validate.Route(kind), stages)
}

// Told returns the route to tell a scout of: stops laid out for a field are walked in
// their order, whether or not the protocol says so.
func (l *Laid) Told(r *protocol.Route) *protocol.Route {
	if l == nil || l.Any {
		return r
	}
	told := protocol.Route{Kind: string(validate.Balanced)}
	if r != nil {
		told.Text = r.Text
	}
	return &told
}

// parseSize reads 775x516.
func parseSize(s string) (layout.Field, error) {
	a, b, found := strings.Cut(strings.ToLower(s), "x")
	length, errA := shell.Number(a)
	width, errB := shell.Number(b)
	if !found || errA != nil || errB != nil {
		return layout.Field{}, fmt.Errorf("%q is not a size; write length x width in metres, such as 775x516", s)
	}
	f, err := layout.Rectangle(length, width)
	if wrong, ok := errors.AsType[*layout.FieldError](err); ok {
		return f, errors.New(wrong.WithoutPlace())
	}
	return f, err
}

// Laid is stops laid out.
type Laid struct {
	Field  layout.Field
	Ground *layout.Ground // nil in a field that stands for any
	Route  layout.Route
	First  int  // stop with the first possible verdict
	Any    bool // the field stands for any
	// Balanced: every beginning from the first possible verdict on spans the field.
	Balanced bool
}

// Lay lays out stops that serve all the stages.
func Lay(stages []*plans.StagePlan, f layout.Field, seed uint64) (*Laid, error) {
	first, last := span(stages)
	l := &Laid{Field: f, First: first, Balanced: true}
	var err error
	if l.Ground, err = layout.NewGround(f, validate.Margin); err != nil {
		return l, err
	}
	o := layout.Options{First: first, Last: last, Ends: validate.EndsOf(stages...)}
	if f.Corner == nil {
		o.From = &orb.Point{0, 0} // the corner where the scout stands
	}
	l.Route, err = l.Ground.Lay(o, rand.New(rand.NewPCG(seed, 1)))
	return l, err
}

// span returns the first stop at which a verdict can come, and the last one, over
// the stages.
func span(stages []*plans.StagePlan) (first, last int) {
	first = stages[0].Table.First()
	for _, s := range stages {
		first, last = min(first, s.Table.First()), max(last, s.Table.Stops())
	}
	return first, last
}

// general lays out stops in a field of the usual shape, along a route of a kind.
func general(kind validate.Route, stages []*plans.StagePlan) (*Laid, error) {
	first, last := span(stages)
	g := validate.DefaultGround
	field, err := layout.Rectangle(g.Length, g.Width)
	if err != nil {
		return nil, err
	}
	l := &Laid{Field: field, First: first, Any: true, Balanced: kind == validate.Balanced}
	w, err := validate.NewWalk(kind, g, validate.Spacing{Metres: validate.WalkSpeed * stages[0].Stop.WalkMinutes, Fewest: first, Most: last, Ends: validate.EndsOf(stages...)}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		return nil, err
	}
	x, y := w.Gate()
	l.Route.From = orb.Point{x, y}
	for range last {
		p := w.Next()
		l.Route.Stops = append(l.Route.Stops, layout.Stop{At: orb.Point{p.X, p.Y}, Metres: p.Metres})
	}
	return l, nil
}

// Small returns the picture without axes and title, for hand-outs.
func (l *Laid) Small() figure.Stops {
	f := l.Picture("")
	f.Plain = true
	return f
}

// Picture returns the field seen from above with its stops.
func (l *Laid) Picture(title string) figure.Stops {
	length, width := l.Field.Size()
	f := figure.Stops{Title: title, Length: length, Width: width, First: l.First,
		Gate: &figure.Point{X: l.Route.From[0], Y: l.Route.From[1]}}
	for _, ring := range l.Field.Shape {
		f.Outline = append(f.Outline, points(ring))
	}
	for _, s := range l.Route.Stops {
		f.Places = append(f.Places, figure.Point{X: s.At[0], Y: s.At[1]})
	}
	return f
}

func points(ring orb.Ring) []figure.Point {
	out := make([]figure.Point, len(ring))
	for i, p := range ring {
		out[i] = figure.Point{X: p[0], Y: p[1]}
	}
	return out
}
