package pilot

import (
	"io"
)

// boundedReader fails once more than maxRow bytes were read since the last row
// was complete.
type boundedReader struct {
	in    io.Reader
	since int
}

func (r *boundedReader) Read(p []byte) (int, error) {
	if r.since > maxRow {
		return 0, errLongRow
	}
	n, err := r.in.Read(p)
	r.since += n
	return n, err
}
