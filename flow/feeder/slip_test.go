package feeder

import "testing"

func TestDelivered(t *testing.T) {
	f := &Feeder{Slip: 1e-3} // 0.1 % a newton: 50 N lose 5 %
	for _, c := range []struct{ force, want float64 }{{0, 10e-9}, {50, 9.5e-9}, {2000, 0}} {
		if got := f.Delivered(10e-9, c.force); got < c.want-1e-18 || got > c.want+1e-18 {
			t.Errorf("against %g N: %g m3/s, want %g", c.force, got, c.want)
		}
	}
	if got := (&Feeder{}).Delivered(10e-9, 100); got != 10e-9 {
		t.Errorf("slip not known: %g", got)
	}
}
