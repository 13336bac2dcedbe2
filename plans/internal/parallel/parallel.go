// Package parallel does the same for many numbers on all processors.
package parallel

import (
	"runtime"
	"sync"
)

// Each calls f for 0..n-1, in blocks on all processors. What f does for one
// number must not depend on another's.
func Each(n int, f func(i int)) {
	workers := min(n, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := n * w / workers; i < n*(w+1)/workers; i++ {
				f(i)
			}
		})
	}
	wg.Wait()
}
