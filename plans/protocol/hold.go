package protocol

import (
	"errors"
	"fmt"
	"strings"

	"stopwise/sampling"
)

// HoldUnder says in which worlds, beside those of the law of clumping, both risks
// must be kept. Its zero value is none.
type HoldUnder struct {
	// Patches is a pest that sits in patches and nowhere else, with the same level
	// and as alike at a stop as the law of clumping says (see [sampling.Patches]
	// and [sampling.PatchyCounts]).
	Patches bool `json:"patches,omitempty"`
	// Overlooked is the share of the infested plants, or of the insects, that a
	// scout does not see, each one by itself.
	Overlooked float64 `json:"overlooked,omitempty"`
	// FalseFinds is the share of clean plants that a scout takes for infested; for
	// shares infested only.
	FalseFinds float64 `json:"false_finds,omitempty"`
}

// Any reports whether there is any such world.
func (h HoldUnder) Any() bool { return h != HoldUnder{} }

// A Held is one kind of world beside the plain ones in which the risks must be
// kept.
type Held struct {
	Name string // "patches", "5% overlooked", "1% false finds"
	// Less says that a count is never larger than in the plain world: only missed
	// risks can be worse there; More is the other way round.
	Less, More bool
	Field      func(World) sampling.Population // what a plain world becomes
}

// Worlds returns the kinds of worlds, in a fixed order.
func (h HoldUnder) Worlds() []Held {
	var all []Held
	if h.Patches {
		all = append(all, Held{Name: "patches", Field: World.Patchy})
	}
	if x := h.Overlooked; x > 0 {
		all = append(all, Held{Name: share(x).String() + " overlooked", Less: true, Field: func(w World) sampling.Population { return w.Misread(x, 0) }})
	}
	if x := h.FalseFinds; x > 0 {
		all = append(all, Held{Name: share(x).String() + " false finds", More: true, Field: func(w World) sampling.Population { return w.Misread(0, x) }})
	}
	return all
}

// String returns it as [ParseHoldUnder] reads it.
func (h HoldUnder) String() string {
	var parts []string
	if h.Patches {
		parts = append(parts, "patches")
	}
	if h.Overlooked > 0 {
		parts = append(parts, "overlooked="+share(h.Overlooked).String())
	}
	if h.FalseFinds > 0 {
		parts = append(parts, "false-finds="+share(h.FalseFinds).String())
	}
	return strings.Join(parts, ",")
}

// ParseHoldUnder reads "patches,overlooked=5%,false-finds=1%", any of them.
func ParseHoldUnder(text string) (HoldUnder, error) {
	var h HoldUnder
	for part := range strings.SplitSeq(text, ",") {
		name, value, given := strings.Cut(strings.TrimSpace(part), "=")
		var into *float64
		switch strings.TrimSpace(name) {
		case "patches":
			if given || h.Patches {
				return h, errors.New("patches stands alone, and once")
			}
			h.Patches = true
			continue
		case "overlooked":
			into = &h.Overlooked
		case "false-finds":
			into = &h.FalseFinds
		default:
			return h, sampling.RefuseName(strings.TrimSpace(name), []string{"patches", "overlooked", "false-finds"}, "nothing known as %q; write any of patches, overlooked=5%%, false-finds=1%%", strings.TrimSpace(name))
		}
		x, err := ParseShare(value)
		switch {
		case err != nil:
			return h, err
		case *into != 0:
			return h, fmt.Errorf("%s stands there twice", name)
		case !(x > 0 && x <= mostMisread):
			return h, fmt.Errorf("%s is %s; accepted: above 0%% and up to %s", name, share(x), share(mostMisread))
		}
		*into = x
	}
	return h, nil
}

// mostMisread is far beyond any scout.
const mostMisread = 0.5

// holdUnder checks in which worlds the promise must hold.
func (c *checker) holdUnder(t Terms) {
	for _, x := range []struct {
		key   string
		share float64
	}{{"overlooked", t.HoldUnder.Overlooked}, {"false_finds", t.HoldUnder.FalseFinds}} {
		if !(x.share >= 0 && x.share <= mostMisread) {
			c.wrong("hold_under."+x.key, x.key, share(x.share), "from 0% to "+share(mostMisread).String())
		}
	}
	if t.HoldUnder.FalseFinds > 0 && !t.Measure.Bounded() {
		c.add("hold_under.false_finds", "false_finds is for plants that are infested or not; stage %q counts insects: put the key into the stages of a share infested", t.Name)
	}
}
