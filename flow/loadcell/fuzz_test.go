package loadcell

import (
	"math"
	"testing"
)

// Whatever a log holds, its analysis ends in finite numbers or an error.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte{0, 0, 0, 0, 0, 0, 9, 20, 30, 30, 30, 30, 60, 90, 30, 20, 20, 20, 20, 0, 0, 0}, byte(10))
	f.Add([]byte{90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 90, 40, 0, 0, 0, 0}, byte(2))
	f.Fuzz(func(t *testing.T, y []byte, rate byte) {
		l := &Log{Name: "f", Step: 1 / (1 + float64(rate)), Rows: len(y)}
		for i, b := range y {
			l.Time = append(l.Time, float64(i)*l.Step*(1+float64(b&1)))
			l.Force = append(l.Force, float64(b)-3)
			if rate%2 == 1 {
				l.Flow = append(l.Flow, float32(b>>7)*5e-9)
			}
			if i > 0 && l.Time[i] <= l.Time[i-1] {
				l.Time[i] = l.Time[i-1] + l.Step
			}
		}
		zero := 0.0
		for _, s := range []Settings{{}, {Zero: &zero}, {Negative: 1}, {TareFrom: 0, TareTo: 3}} {
			a, err := Analyse(l, s)
			if err != nil {
				continue
			}
			for _, x := range a.Tests {
				for _, v := range []float64{x.Peak, x.PeakTime, x.PeakError, x.Ripple.Frequency, x.Ripple.Amplitude,
					a.Tare, a.Noise} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%+v", x)
					}
				}
				if x.Last != nil && (math.IsNaN(x.Last.Force) || math.IsNaN(x.Last.SE) || math.IsInf(x.Last.SE, 0)) {
					t.Fatalf("%+v", x.Last)
				}
			}
		}
	})
}
