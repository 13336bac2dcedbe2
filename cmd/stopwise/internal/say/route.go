package say

import (
	"fmt"
	"strings"

	"stopwise/plans"
	"stopwise/plans/protocol"
)

var routeWords = map[string]string{
	"balanced": "Walk to the numbered stops laid out for this field, in their order.",
	"zigzag":   "Walk a zigzag from side to side.",
	"w":        "Walk a W from side to side.",
	"transect": "Walk up along one line and back along another.",
	"random":   "Walk to places drawn at random, in the order drawn.",
}

// RouteSentence says how a field is walked, for the scout: what the protocol says
// of it, and what an early verdict takes.
func RouteSentence(r *protocol.Route, stages []*plans.StagePlan) string {
	first := stages[0].Table.First()
	for _, s := range stages {
		first = min(first, s.Table.First())
	}
	var parts []string
	if r != nil && r.Kind != "" {
		parts = append(parts, routeWords[r.Kind])
	}
	if r != nil && r.Text != "" {
		parts = append(parts, strings.TrimSuffix(r.Text, ".")+".")
	}
	if r == nil || r.Kind != "balanced" {
		across := fmt.Sprintf("Cross the whole field, both ways, within the first %d stops: a verdict can come from stop %d on.", first, first)
		if first < 2 {
			across = "Cross the whole field, both ways, within the first stops: a verdict can come from the first on."
		}
		parts = append(parts, across)
	}
	return strings.Join(parts, " ")
}
