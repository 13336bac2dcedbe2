package main

import (
	"stopwise/sampling"
	"stopwise/sampling/size"
)

// precisionFlags state a relative precision, with the convention it is meant in.
type precisionFlags struct {
	precision, confidence *option[float64]
	as                    *option[size.Convention]
}

func newPrecision() precisionFlags {
	return precisionFlags{
		precision:  shareFlag("precision", "`SHARE` relative precision D: as a part of what is estimated, such as 25%", 1),
		confidence: confidenceFlag(),
		as: newOption("precision-as", "`CONVENTION` what --precision means, since both are in use and their samples differ: "+
			"half-width (of the confidence interval) or standard-error", size.ParseConvention),
	}
}

// check asks for both flags or none.
func (p precisionFlags) check() error {
	switch {
	case !p.precision.set && p.as.set:
		return usageHint("give one, such as --precision 25%", "--precision is missing")
	case p.precision.set && !p.as.set:
		return usageHint("write --precision-as half-width or --precision-as standard-error: their samples differ about fourfold at 95% confidence", "it is not said what --precision means")
	}
	return nil
}

// standardErrors returns how many standard errors a half-width is.
func (p precisionFlags) standardErrors() float64 { return sampling.CriticalNormal(p.confidence.value) }
