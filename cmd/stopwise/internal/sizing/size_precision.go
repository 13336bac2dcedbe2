package sizing

import (
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

// sizePrecisionFlags state a relative precision, with the convention it is meant in.
type sizePrecisionFlags struct {
	precision, confidence *shell.Option[float64]
	as                    *shell.Option[string]
}

func newPrecision() sizePrecisionFlags {
	return sizePrecisionFlags{
		precision:  shell.ShareFlag("precision", "`SHARE` precision, as a part of what is estimated, such as 25%", 1),
		confidence: shell.ConfidenceFlag(),
		as: shell.ChoiceFlag("precision-as", "`CONVENTION` what part of the estimate --precision is; both are in use, and their samples differ",
			size.HalfWidth.String(), size.StandardError.String()),
	}
}

// convention returns what --precision means, if it is given.
func (p sizePrecisionFlags) convention() size.Convention {
	c, err := size.ParseConvention(p.as.Value)
	if err != nil {
		return 0
	}
	return c
}

// check asks for both flags or none.
func (p sizePrecisionFlags) check() error {
	switch {
	case !p.precision.Set && p.as.Set:
		return shell.UsageHint("give one, such as --precision 25%", "--precision is missing")
	case p.precision.Set && !p.as.Set:
		return shell.UsageHint("write --precision-as half-width or --precision-as standard-error: their samples differ about fourfold at 95% confidence", "it is not said what --precision means")
	}
	return nil
}

// standardErrors returns how many standard errors a half-width is.
func (p sizePrecisionFlags) standardErrors() float64 {
	return sampling.CriticalNormal(p.confidence.Value)
}
