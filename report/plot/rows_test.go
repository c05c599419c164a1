package plot

import (
	"strings"
	"testing"
)

// A drawing of few rows has room for the words at its marks: without it, every place in it would be no number.
func TestDrawingsHoldNumbersForAnyRows(t *testing.T) {
	for n := 1; n < 8; n++ {
		var c Ranges
		c.Axis = "flow"
		c.Also = &Also{Unit: "mm/s", By: 0.4}
		c.Marks = []Mark{{Name: "wanted 1000", X: 10}}
		for j := range n {
			c.Categories = append(c.Categories, strings.Repeat("row ", 6)+string(rune('a'+j)))
		}
		for _, name := range []string{"low", "best", "high"} {
			var v []float64
			for j := range n {
				v = append(v, 10+float64(j)+float64(len(name)))
			}
			c.Points = append(c.Points, RangePoints{Name: name, Values: v})
		}
		if s := Inline(c, "x"); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Errorf("%d rows: no numbers", n)
		}
	}
}
