package shell

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"regexp"
	"strconv"
	"strings"
	"syscall"

	"github.com/urfave/cli/v2"
	"github.com/xrash/smetrics"

	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/pilot"
	"stopwise/validate/layout"
)

// The exit statuses.
const (
	StatusDone   = 0
	StatusFailed = 1 // the work failed
	StatusInput  = 2 // the input or the usage is wrong
)

// Messages begin in lower case and have no full stop. A usageErr is a fault of
// the command line.
type usageErr struct {
	message, hint string
	cause         error // where another error says what is wrong; else nil
}

func (e *usageErr) Error() string {
	if e.hint == "" {
		return e.message
	}
	return e.message + "; " + e.hint
}

func (e *usageErr) Unwrap() error { return e.cause }

// UsageError returns an error of the command line: exit status 2.
func UsageError(format string, args ...any) error {
	return UsageHint("", format, args...)
}

// UsageHint is a usageError that says what to do instead, after a semicolon.
func UsageHint(hint, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	return &usageErr{err.Error(), hint, errors.Unwrap(err)}
}

// An inputErr is a fault in a file.
type inputErr struct {
	place string // file, or file:line, or file:line:column
	text  string
	cause error
}

func (e *inputErr) Error() string { return e.place + ": " + e.text }
func (e *inputErr) Unwrap() error { return e.cause }

// InputError says that reading file brought err: exit status 2. Joined errors
// are taken one by one. Those that know their place tell it through a method
// Position, and their message without it through a method Text. The file "-" is
// standard input.
func InputError(file string, err error) error {
	if file == "-" {
		file = "standard input"
	}
	var out []error
	for _, e := range leaves(err) {
		if in, ok := errors.AsType[*inputErr](e); ok {
			out = append(out, in)
			continue
		}
		out = append(out, &inputErr{placeOf(file, e), textOf(e), e})
	}
	return errors.Join(out...)
}

func placeOf(file string, err error) string {
	if p, ok := errors.AsType[interface {
		error
		Position() (line, column int)
	}](err); ok {
		line, column := p.Position()
		if line > 0 {
			file += ":" + strconv.Itoa(line)
		}
		if line > 0 && column > 0 {
			file += ":" + strconv.Itoa(column)
		}
	}
	return file
}

func textOf(err error) string {
	if t, ok := errors.AsType[interface {
		error
		Text() string
	}](err); ok {
		return t.Text()
	}
	return Bare(err).Error()
}

// Bare takes "open plan.json: " off an error of the file system, which the
// place says already.
func Bare(err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return p.Err
	}
	return err
}

// A failureErr is work that failed although the input was right.
type failureErr struct{ err error }

func (e *failureErr) Error() string { return e.err.Error() }
func (e *failureErr) Unwrap() error { return e.err }

// Failure returns an error of the work itself: exit status 1.
func Failure(format string, args ...any) error {
	return &failureErr{fmt.Errorf(format, args...)}
}

// statusOf returns the exit status for an error: that of the outermost error
// that has one, the highest one of joined errors, otherwise 1.
func statusOf(err error) int {
	switch e := err.(type) {
	case nil:
		return StatusDone
	case *failureErr:
		return StatusFailed
	case *usageErr, *inputErr, *report.FormatError, cli.ExitCoder,
		*sampling.ValueError, *plans.CountError, *plans.InputError, *layout.FieldError, *pilot.Error, *pilot.Errors:
		return StatusInput
	case interface{ Unwrap() []error }:
		status := StatusFailed
		for _, child := range e.Unwrap() {
			status = max(status, statusOf(child))
		}
		return status
	case interface{ Unwrap() error }:
		return max(StatusFailed, statusOf(e.Unwrap()))
	}
	return StatusFailed
}

// leaves takes joined errors apart. An error that only wraps several, within a
// sentence of its own, is one error.
func leaves(err error) []error {
	if err == nil {
		return nil
	}
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var out []error
	var texts []string
	for _, child := range joined.Unwrap() {
		out = append(out, leaves(child)...)
		texts = append(texts, child.Error())
	}
	if strings.Join(texts, "\n") != err.Error() {
		return []error{err}
	}
	return out
}

// printError writes an error, a line for each of the errors joined in it.
func printError(w io.Writer, err error) {
	for _, e := range leaves(err) {
		printMessage(w, e.Error()+meant(e))
	}
}

// meant asks whether another name was meant, where an error is about a name that is
// much like one of those known.
func meant(err error) string {
	e, ok := errors.AsType[interface {
		error
		Unknown() (name string, known []string)
	}](err)
	if !ok {
		return ""
	}
	name := Closest(e.Unknown())
	if name == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", name)
}

func printMessage(w io.Writer, text string) {
	fmt.Fprintln(w, "stopwise: "+Printable(text))
}

// Printable returns text as one line without control characters: file names and
// arguments may hold anything.
func Printable(text string) string {
	text = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' }), "; ")
	return textsafe.Line(text)
}

func isClosedPipe(err error) bool {
	return errors.Is(err, syscall.EPIPE) || errors.Is(err, io.ErrClosedPipe)
}

// What the parser says about flags.
const (
	undefinedFlag = `(?s)^flag provided but not defined: -(.*)$`
	lacksValue    = `^flag needs an argument: -(.*)$`
	badSyntax     = `(?s)^bad flag syntax: (.*)$`
	badBool       = `(?s)^invalid boolean value (".*") for -([^ :]*): `
	badValue      = `(?s)^invalid value (".*") for flag -([^ :]*): (.*)$`
)

// said returns what stands in a text of a form, or nil. The forms are read only
// where something was wrong: reading them at every start would cost time.
func said(form, text string) []string { return regexp.MustCompile(form).FindStringSubmatch(text) }

// onUsageError rewords what the parser says about flags.
func onUsageError(c *cli.Context, err error, _ bool) error {
	for _, f := range c.Command.Flags {
		o, ok := f.(interface {
			fault() error
			Given() (name, text string, set bool)
		})
		if ok && o.fault() != nil {
			if name, file, _ := o.Given(); errors.As(o.fault(), new(*outfile.Refusal)) {
				return OutputError(name, file, o.fault())
			}
			return UsageError("%s: %w", dashed(f.Names()[0]), o.fault())
		}
	}
	text := err.Error()
	if m := said(undefinedFlag, text); m != nil {
		return unknownFlag(c.Command, m[1])
	}
	if m := said(lacksValue, text); m != nil {
		return UsageError("%s needs a value", dashed(m[1]))
	}
	if m := said(badSyntax, text); m != nil {
		return UsageError("%q is not a flag", m[1])
	}
	if m := said(badBool, text); m != nil {
		return UsageError("%s: %s is not true or false", dashed(m[2]), m[1])
	}
	if m := said(badValue, text); m != nil {
		if m[3] == "parse error" {
			return UsageError("%s: %s is not a number", dashed(m[2]), m[1])
		}
		return UsageError("%s: %s: %s", dashed(m[2]), m[1], m[3])
	}
	return UsageError("%s", strings.ToLower(text[:1])+text[1:])
}

func unknownFlag(c *cli.Command, name string) error {
	of := ""
	if path, inner := strings.CutPrefix(c.HelpName, "stopwise "); inner {
		of = " for `" + path + "`"
	}
	var names []string
	for _, f := range c.Flags {
		if v, ok := f.(cli.VisibleFlag); ok && v.IsVisible() {
			names = append(names, f.Names()...)
		}
	}
	hint := "see " + c.HelpName + " --help"
	if s := Closest(name, names); s != "" {
		hint = "did you mean " + dashed(s) + "?"
	}
	if len(name) == 1 {
		return UsageHint(hint, "no flag -%s%s", name, of)
	}
	return UsageHint(hint, "no flag %s%s", dashed(name), of)
}

// Closest returns the name that is most like a mistyped one, or "" where none is: of
// those that a slip in every third letter can have come from, or that are only begun,
// the one of the largest Jaro-Winkler similarity.
func Closest(word string, names []string) string {
	word = strings.ToLower(strings.TrimSpace(word))
	best, closest := 0.0, ""
	for _, name := range names {
		n := strings.ToLower(name)
		begun := len(word) > 2 && strings.HasPrefix(n, word)
		if len(n) < 2 || len(word) > mostLikened || !begun && smetrics.WagnerFischer(word, n, 1, 1, 1) > (len(n)+2)/3 {
			continue
		}
		if s := smetrics.JaroWinkler(word, n, 0.7, 4); s > best {
			best, closest = s, name
		}
	}
	return closest
}

// mostLikened is the length of the longest word that is held against names.
const mostLikened = 100

// Either returns "a, b or c".
func Either(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
}
