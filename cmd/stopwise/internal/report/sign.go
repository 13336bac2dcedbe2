package report

import (
	"strconv"

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

// SignNumber is the same without the word: "2", or "fewer than 2".
func SignNumber(g protocol.Sign) string {
	switch {
	case !g.Absent:
		return strconv.Itoa(g.Stops)
	case g.Stops == 1:
		return "none"
	}
	return "fewer than " + strconv.Itoa(g.Stops)
}
