package loadcell

import (
	"fmt"
	"strings"
	"testing"
)

// A column in mm/min that is read as mm/s has filament running sixty times too fast: 5 mm/s becomes 300 mm/s. The bound
// is 100 mm/s, 240.5 mm3/s of 1.75 mm filament.
func TestSpeedBeyondAnyFeederIsWarnedOf(t *testing.T) {
	for _, c := range []struct {
		head  string
		value float64
		said  string
	}{
		{"feed_mm_s", 300, "722 mm3/s, filament at 300 mm/s"},
		{"feed_mm_min", 300, ""},
		{"feed_mm_s", 99, ""},
		{"flow_mm3_s", 239, ""},
		{"flow_mm3_s", 242, "filament at 101 mm/s"},
	} {
		var b strings.Builder
		fmt.Fprintf(&b, "time_s,force_N,%s\n", c.head)
		for i := range 500 {
			f, q := 0.0, 0.0
			if i >= 50 && i < 400 {
				f, q = 20, c.value
			}
			fmt.Fprintf(&b, "%.1f,%.2f,%g\n", float64(i)/10, f+0.05*float64(i%3), q)
		}
		l, err := Parse("speed.csv", []byte(b.String()), Format{})
		if err != nil {
			t.Fatal(err)
		}
		w := fmt.Sprint(analysed(t, l, Settings{}).Warnings)
		if got := strings.Contains(w, "flow-unit"); got != (c.said != "") || !strings.Contains(w, c.said) {
			t.Errorf("%s of %g: warnings %s", c.head, c.value, w)
		}
	}
}
