package plot

import (
	"slices"
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

// Names of marks close to each other stand at two heights, in the order of their values, whatever the order given.
func TestNamesOfMarksStandAtTwoHeights(t *testing.T) {
	got := heights([]Mark{{X: 10, Name: "wanted 10"}, {X: 9.6}, {X: 9.42, Name: "usable 9.42"}, {X: 11, Name: "x"}})
	if want := []int{1, 0, 0, 0}; !slices.Equal(got, want) {
		t.Errorf("heights %v, want %v", got, want)
	}
}
