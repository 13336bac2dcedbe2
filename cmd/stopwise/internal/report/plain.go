package report

import (
	"fmt"
	"strconv"
)

// PlainNumber returns a number that somebody chose, as it was written.
func PlainNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// Short returns a constant that somebody chose or fitted.
func Short(x float64) string { return fmt.Sprintf("%.4g", x) }
