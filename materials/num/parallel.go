package num

import (
	"runtime"
	"sync"
)

// Parallel runs jobs 0 to n-1 over the cores and returns the error of the first job, by number, that had one. worker makes what one
// goroutine runs, so that each can have a workspace of its own.
func Parallel(n int, worker func() func(i int) error) error {
	errs := make([]error, n)
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		job := worker()
		wg.Go(func() {
			for i := range next {
				errs[i] = job(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
