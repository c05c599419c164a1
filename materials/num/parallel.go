package num

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Parallel runs jobs 0 to n-1 over the cores and returns the error of the first job, by number, that had one. worker
// makes what one goroutine runs, so that each can have a workspace of its own.
func Parallel(n int, worker func() func(i int) error) error {
	errs := make([]error, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		job := worker()
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				errs[i] = job(i)
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
