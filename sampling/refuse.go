package sampling

import (
	"fmt"
	"strconv"
)

// A ValueError refuses a request: it says what is wrong with one value, or with
// several that do not go together. A program tells by it bad input from work that
// failed. All packages of the library refuse with it.
type ValueError struct {
	Path     string   // where the value stands in a protocol, for example "stop.plants" or "stage.0.upper"; else empty
	Stage    string   // whose terms it is in; empty for none or an unnamed one
	Quantity string   // in words; empty where it is no matter of one quantity
	Value    any      // as given; nil where it is missing
	Accepted string   // in words; empty where the message says it
	Message  string   // the whole of it, where it is not Quantity, Value and Accepted
	Known    []string // what Value may be, where it is one of a few names; else empty
}

// Unknown returns the name that was given and those that are known, for a program
// that asks which one was meant; no names where the value is not a name.
func (e *ValueError) Unknown() (name string, known []string) {
	name, _ = e.Value.(string)
	return name, e.Known
}

func (e *ValueError) Error() string {
	if e.Message != "" {
		return e.Message
	}
	return fmt.Sprintf("%s is %v; accepted: %s", e.Quantity, e.Value, e.Accepted)
}

// Refuse returns a [ValueError] of one value: "rho 1, must be at least 0 and below
// 1", and of a number of things: "0 stops, must be at least 1".
func Refuse[T float64 | int](quantity string, value T, accepted string) error {
	found := fmt.Sprintf("%s %v", quantity, value)
	if n, whole := any(value).(int); whole {
		found = fmt.Sprintf("%d %s", n, quantity)
	}
	return refusal(quantity, value, found, accepted)
}

// RefuseShare is [Refuse] for a share, which is written as a percentage.
func RefuseShare(quantity string, share float64, accepted string) error {
	return refusal(quantity, share, quantity+" "+strconv.FormatFloat(100*share, 'g', 6, 64)+"%", accepted)
}

func refusal(quantity string, value any, found, accepted string) error {
	return &ValueError{Quantity: quantity, Value: value, Accepted: accepted, Message: found + ", must be " + accepted}
}

// RefuseName returns a [ValueError] in words, for a name that is none of those known.
func RefuseName(name string, known []string, format string, args ...any) error {
	return &ValueError{Value: name, Known: known, Message: fmt.Sprintf(format, args...)}
}

// Refusef returns a [ValueError] in words, for values that do not go together.
func Refusef(format string, args ...any) error {
	return &ValueError{Message: fmt.Sprintf(format, args...)}
}
