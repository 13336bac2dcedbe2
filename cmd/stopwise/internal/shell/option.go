package shell

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"
)

// An option is a flag that is parsed and checked as it is read. It goes into a
// command's Flags as it is.
type Option[T any] struct {
	*cli.GenericFlag
	Value T    // what was given, otherwise the default
	Set   bool // whether it was given
	read  *optionText
	words []string // what it takes, where that is one of a few words
}

// NewOption returns a flag without a default. A word between backticks at the
// start of usage names what the flag takes. The errors of parse follow on the
// flag's name: `"25" is not a share; write 25% or 0.25`.
func NewOption[T any](name, usage string, parse func(string) (T, error)) *Option[T] {
	o := &Option[T]{}
	o.read = &optionText{parse: func(s string) (err error) {
		o.Value, err = parse(s)
		return err
	}, given: &o.Set}
	o.GenericFlag = &cli.GenericFlag{Name: name, Usage: usage, Value: o.read}
	return o
}

// WithDefault gives the flag a default, written as on the command line.
func (o *Option[T]) WithDefault(text string) *Option[T] {
	if err := o.read.parse(text); err != nil {
		panic(fmt.Sprintf("default of --%s: %v", o.Name, err))
	}
	o.read.text = text
	return o
}

// WithoutValue says in the help what happens where the flag is not given.
func (o *Option[T]) WithoutValue(text string) *Option[T] {
	o.DefaultText = text
	return o
}

// choices returns the words that the flag takes, for shells.
func (o *Option[T]) choices() []string { return o.words }

func (o *Option[T]) fault() error { return o.read.err }

func (o *Option[T]) Given() (name, text string, set bool) {
	return dashed(o.Name), o.read.text, o.Set
}

// optionText is the text of an option, in the shape that the parser wants. It
// keeps its error, of which the parser passes on the text only, and reworded.
type optionText struct {
	parse func(string) error
	given *bool
	text  string // as written
	err   error
}

func (t *optionText) Set(s string) error {
	if *t.given {
		t.err = fmt.Errorf("given twice, %s and %s", quoteEmpty(t.text), quoteEmpty(s))
		return t.err
	}
	t.text, *t.given = s, true
	t.err = t.parse(s)
	return t.err
}

func (t *optionText) String() string { return t.text }

func quoteEmpty(s string) string {
	if s == "" {
		return `""`
	}
	return s
}

// AnOption is an option of any type.
type AnOption interface {
	Given() (name, text string, set bool)
}

// Required returns an error that names the options that have no value: they were
// not given and have no default.
func Required(options ...AnOption) error {
	var missing []string
	for _, o := range options {
		if name, text, set := o.Given(); !set && text == "" {
			missing = append(missing, name)
		}
	}
	switch n := len(missing); n {
	case 0:
		return nil
	case 1:
		return UsageError("%s is missing", missing[0])
	default:
		return UsageError("%s and %s are missing", strings.Join(missing[:n-1], ", "), missing[n-1])
	}
}

// Exclusive returns an error when more than one of the options was given.
func Exclusive(options ...AnOption) error {
	var names []string
	for _, o := range options {
		if name, _, set := o.Given(); set {
			names = append(names, name)
		}
	}
	if len(names) < 2 {
		return nil
	}
	return UsageError("%s cannot be used together; give one of them", strings.Join(names, " and "))
}

// AnySet reports whether one of the options was given.
func AnySet(options ...AnOption) bool { return NoneOf("", options...) != nil }

// NoneOf returns an error where one of the options was given: its name, and why not.
func NoneOf(why string, options ...AnOption) error {
	for _, o := range options {
		if name, _, set := o.Given(); set {
			return UsageError("%s %s", name, why)
		}
	}
	return nil
}

// Below returns an error unless low lies below high.
func Below[T cmp.Ordered](low, high *Option[T]) error {
	if low.Value < high.Value {
		return nil
	}
	return UsageError("--%s %s must be below --%s %s", low.Name, low.read.text, high.Name, high.read.text)
}

var ErrEmpty = errors.New("is empty")
