package report

import (
	"stopwise/plans/protocol"
)

// SignAt says at how many stops a sign must be seen to act: "2 stops or more",
// or, where it must not be seen, "fewer than 2 stops".
func SignAt(g protocol.Sign) string {
	if !g.Absent {
		return Count(g.Stops, "stop", "stops") + " or more"
	}
	if g.Stops == 1 {
		return "no stop"
	}
	return "fewer than " + Count(g.Stops, "stop", "stops")
}
