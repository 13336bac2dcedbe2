package protocol

import (
	"slices"
	"strings"
)

// A Route says how a field is walked. At least one of the two is given.
type Route struct {
	Kind string `json:"kind,omitempty"` // one of RouteKinds
	Text string `json:"text,omitempty"` // for the scout
}

// RouteKinds are the kinds of route that a protocol can name.
var RouteKinds = []string{"balanced", "zigzag", "w", "transect", "random"}

func (r *reader) route(s *section) *Route {
	if s == nil {
		return nil
	}
	out := &Route{Kind: s.text("kind"), Text: s.text("text")}
	switch {
	case out.Kind == "" && out.Text == "":
		r.fail(s.at("kind"), "route says nothing: write kind = \"balanced\", or text = \"...\"")
	case out.Kind != "" && !slices.Contains(RouteKinds, out.Kind):
		r.unknown(s.at("kind"), out.Kind, RouteKinds, "kind: %q is not known; write %s", out.Kind, strings.Join(RouteKinds, ", "))
	}
	s.finish()
	return out
}
