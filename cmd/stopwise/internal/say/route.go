package say

import (
	"fmt"
	"strings"

	"stopwise/plans"
	"stopwise/plans/protocol"
)

// RouteSentence says how a field is walked, for the scout: what the protocol says of it,
// whose own text stays as it is, and what an early verdict takes.
func (l In) RouteSentence(r *protocol.Route, stages []*plans.StagePlan) string {
	first := stages[0].Table.First()
	for _, s := range stages {
		first = min(first, s.Table.First())
	}
	var parts []string
	if r != nil && r.Kind != "" {
		parts = append(parts, l.routeKind(r.Kind))
	}
	if r != nil && r.Text != "" {
		parts = append(parts, strings.TrimSuffix(r.Text, ".")+".")
	}
	if r == nil || r.Kind != "balanced" {
		across := l.Say("scout.across", "Stops", l.Count("count.stops", first), "First", first)
		if first < 2 {
			across = l.Say("scout.across_first")
		}
		parts = append(parts, across)
	}
	return strings.Join(parts, " ")
}

// DefaultRoute says, for a specialist, which route a plan is made to be walked on.
func DefaultRoute(r *protocol.Route) string {
	const spans = "`stopwise route` lays out its stops so that they span the field before the first verdict can come"
	switch {
	case r != nil && r.Kind == "balanced":
		return "Walk the route that the protocol names, balanced: " + spans + "."
	case r != nil && r.Kind != "":
		return fmt.Sprintf("The protocol names the route %s; the default is balanced: %s.", r.Kind, spans)
	}
	return "Walk the default route, balanced: " + spans + "."
}

func (l In) routeKind(kind string) string {
	switch kind {
	case "balanced":
		return l.Say("scout.route_balanced")
	case "zigzag":
		return l.Say("scout.route_zigzag")
	case "w":
		return l.Say("scout.route_w")
	case "transect":
		return l.Say("scout.route_transect")
	}
	return l.Say("scout.route_random")
}
