package report

// tableIntervals is the number of steps of a curve's table, chartIntervals that
// of its picture.
const (
	TableIntervals = 20
	ChartIntervals = 60
)

func Evenly(low, high float64, intervals int) []float64 {
	x := make([]float64, intervals+1)
	for i := range x {
		x[i] = low + (high-low)*float64(i)/float64(intervals)
	}
	return x
}
