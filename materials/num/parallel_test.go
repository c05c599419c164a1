package num

import (
	"errors"
	"runtime"
	"sync/atomic"
	"testing"
)

func TestParallelRunsEveryJobOnceAndReturnsTheFirstError(t *testing.T) {
	cores := runtime.GOMAXPROCS(0)
	var runs [100]atomic.Int32
	one, two := errors.New("7"), errors.New("60")
	err := Parallel(len(runs), func() func(int) error {
		return func(i int) error {
			runs[i].Add(1)
			switch i {
			case 7:
				return one
			case 60:
				return two
			}
			return nil
		}
	})
	if err != one {
		t.Errorf("got %v", err)
	}
	if now := runtime.GOMAXPROCS(0); now != cores {
		t.Errorf("%d processors are used from then on, before %d", now, cores)
	}
	for i := range runs {
		if runs[i].Load() != 1 {
			t.Errorf("job %d ran %d times", i, runs[i].Load())
		}
	}
	if err := Parallel(0, func() func(int) error { t.Error("a worker for nothing"); return nil }); err != nil {
		t.Error(err)
	}
}

func TestKept(t *testing.T) {
	var k Cache[int, int]
	made := 0
	for range 3 {
		for i := range 10 {
			if got := k.Get(i, func() int { made++; return i * i }); got != i*i {
				t.Fatalf("%d: %d", i, got)
			}
		}
	}
	if made != 10 {
		t.Errorf("made %d times", made)
	}
	for i := range 10 * keptLimit {
		k.Get(i, func() int { return 0 })
	}
	if len(k.m) > keptLimit {
		t.Errorf("%d held", len(k.m))
	}
}
