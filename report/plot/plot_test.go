package plot

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot/plotter"
	"pgregory.net/rapid"
)

var examples = map[string]Chart{
	"xy": XY{X: "flow, mm³/s", Y: "push, N", Y2: "block, °C", AlsoX: &Also{"mm/s of filament", 0.416},
		AlsoY: &Also{"kgf", 1 / 9.80665}, ZeroBased: true, YMax: 50,
		Series: []Series{{Name: "load <1>", X: []float64{1, 10, 20}, Y: []float64{5, 30, 90}},
			{Name: "block", X: []float64{1, 20}, Y: []float64{200, 240}, Right: true, Dash: 1},
			{Name: "measured", X: []float64{5}, Y: []float64{20}, Points: true, Symbol: Diamond}},
		Marks: []Mark{{X: 12, Name: "wanted"}}},
	"bars": Bars{Categories: []string{"barrel", "cone"}, Axis: "drop, MPa", Names: []string{"shear", "elongation"},
		Values: [][]float64{{1, 2}, {0, 0.5}}, Stack: true},
	"gains": Bars{Categories: []string{"a", "b & c"}, Axis: "gain", Names: []string{"gain"},
		Values: [][]float64{{1, -2}}, Horizontal: true},
	"ranges": Ranges{Categories: []string{"one", "two"}, Axis: "usable flow", Also: &Also{"mm/s", 0.4},
		Points: []RangePoints{{Name: "low", Symbol: Triangle, Values: []float64{18, 20}},
			{Name: "best", Symbol: Circle, Values: []float64{22, 21}}}},
	"empty": XY{X: "x", Y: "y", Series: []Series{{Name: "nothing"}}},
	"one":   XY{X: "x", Y: "y", Series: []Series{{Name: "one", X: []float64{3}, Y: []float64{0}}}},
}

// Every chart is drawn in every format, and the SVG is XML with every text of the chart in it.
func TestEveryChartInEveryFormat(t *testing.T) {
	for name, c := range examples {
		for _, f := range Formats {
			var b bytes.Buffer
			if err := Write(&b, c, f); err != nil {
				t.Fatalf("%s.%s: %v", name, f, err)
			}
			switch f {
			case "png":
				m, err := png.Decode(&b)
				if err != nil || m.Bounds().Dx() < 1900 {
					t.Errorf("%s: %v, %v", name, err, m.Bounds())
				}
			case "pdf":
				if !bytes.HasPrefix(b.Bytes(), []byte("%PDF-")) {
					t.Errorf("%s is no PDF", name)
				}
			case "svg":
				wellFormed(t, name, b.String())
				for _, k := range c.Keys() {
					if !strings.Contains(b.String(), escape(k.Name)) {
						t.Errorf("%s: the legend lacks %q", name, k.Name)
					}
				}
			}
		}
		wellFormed(t, name, Inline(c, "a <label>"))
	}
	if err := Write(io.Discard, examples["xy"], "gif"); err == nil {
		t.Error("a format that is not there")
	}
}

func wellFormed(t *testing.T, name, s string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("%s: %v in %.300s", name, err, s)
		}
	}
}

// The second unit's axis covers the same stretch and has round ticks of its own.
func TestSecondUnit(t *testing.T) {
	o := examples["xy"].Options()
	y := o["yAxis"].([]any)
	n, kgf := y[0].(map[string]any), y[1].(map[string]any)
	if got := kgf["max"].(float64) * 9.80665; math.Abs(got-n["max"].(float64)) > 1e-9 {
		t.Errorf("the axes end at %v N and %g N", n["max"], got)
	}
	ticks := kgf["axisLabel"].(map[string]any)["customValues"].([]float64)
	for i, want := range []float64{0, 1, 2, 3, 4, 5} {
		if i >= len(ticks) || math.Abs(ticks[i]-want) > 1e-12 {
			t.Fatalf("ticks in kgf: %v", ticks)
		}
	}
}

// An axis holds its data, its ends are whole steps, and it has a handful of ticks.
func TestNiceSpans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-1e4, 1e4).Draw(t, "low")
		hi := lo + math.Exp(rapid.Float64Range(-7, 9).Draw(t, "log of width"))
		s := nice(lo, hi, rapid.Bool().Draw(t, "zero"), 6)
		tiny := 1e-6 * s.Step
		if s.Low > lo+tiny || s.High < hi-tiny {
			t.Fatalf("%+v does not hold %g to %g", s, lo, hi)
		}
		if n := len(s.ticks()); n < 3 || n > 14 {
			t.Fatalf("%d ticks: %+v", n, s)
		}
	})
}

// A curve that leaves the drawing is cut where it crosses the edge.
func TestCurvesAreCutAtTheEdge(t *testing.T) {
	got := inside(plotter.XYs{{X: 0, Y: 0}, {X: 10, Y: 100}, {X: 20, Y: 0}}, 0, 50)
	if len(got) != 2 || got[0][1] != (plotter.XY{X: 5, Y: 50}) || got[1][0] != (plotter.XY{X: 15, Y: 50}) {
		t.Errorf("%v", got)
	}
}
