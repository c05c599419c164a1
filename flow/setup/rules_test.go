package setup_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow"
	"meltload/flow/casefile"
	"meltload/flow/feeder"
	"meltload/flow/setup"
	"meltload/materials/strict"
)

// Where a set-up becomes one that is refused, and which field is blamed: the bounds from both sides.
func TestBounds(t *testing.T) {
	for _, x := range []struct {
		field  string
		good   []func(s *setup.Setup)
		refuse []func(s *setup.Setup)
	}{
		{"Contact", []func(s *setup.Setup){func(s *setup.Setup) { s.Contact = 1 },
			func(s *setup.Setup) { s.Contact = math.Inf(1) }},
			[]func(s *setup.Setup){func(s *setup.Setup) { s.Contact = 0.99 },
				func(s *setup.Setup) { s.Contact = math.NaN() }}},
		number("Limits.Safety", 1, 10, func(s *setup.Setup) *float64 { return &s.Limits.Safety }),
		number("Limits.MountMax", 0, 5000, func(s *setup.Setup) *float64 { return &s.Limits.MountMax }),
		number("Limits.Residence", 0, 1e5, func(s *setup.Setup) *float64 { return &s.Limits.Residence }),
		number("Limits.MinFlow", 1e-12, math.Inf(1), func(s *setup.Setup) *float64 { return &s.Limits.MinFlow }),
		{"Limits.MinFlow", nil, []func(s *setup.Setup){func(s *setup.Setup) { s.Limits.MinFlow = 1.01e-6 }}},
		number("Limits.MaxFlow", 0.503e-9, 1e-6, func(s *setup.Setup) *float64 { return &s.Limits.MaxFlow }),
		number("Target", 0, 60e-9, func(s *setup.Setup) *float64 { return &s.Target }),
		number("Line.Height", 0, 0.45e-3, func(s *setup.Setup) *float64 { return &s.Line.Height }),
		number("Line.Width", 0.2e-3, 50e-3, func(s *setup.Setup) *float64 { return &s.Line.Width }),
		number("Temps[0]", 250, 493, func(s *setup.Setup) *float64 { return &s.Temps[0] }),
		number("Temps[1]", 454, 800, func(s *setup.Setup) *float64 { return &s.Temps[1] }),
		number("Mould.Safety", 1, math.Inf(1), func(s *setup.Setup) *float64 { return &s.Mould.Safety }),
		number("Mould.Flow", 1e-14, math.Inf(1), func(s *setup.Setup) *float64 { return &s.Mould.Flow }),
		{"Mould.Surface", []func(s *setup.Setup){func(s *setup.Setup) { s.Mould.Surface = s.Block - 1 }},
			[]func(s *setup.Setup){func(s *setup.Setup) { s.Mould.Surface = s.Block }}},
		{"Mould.Elements", nil, []func(s *setup.Setup){func(s *setup.Setup) { s.Mould.Elements = nil }}},
		{"Samples", []func(s *setup.Setup){func(s *setup.Setup) { s.Samples = 0 }},
			[]func(s *setup.Setup){func(s *setup.Setup) { s.Samples = -1 }}},
		{"Feeder", []func(s *setup.Setup){func(s *setup.Setup) { s.Feeder.Model = nil }},
			[]func(s *setup.Setup){func(s *setup.Setup) { s.Feeder = nil },
				func(s *setup.Setup) { s.Feeder = &feeder.Feeder{} }}},
		{"Feeder", []func(s *setup.Setup){func(s *setup.Setup) {
			s.Feeder = &feeder.Feeder{Model: &feeder.Model{}}
		}}, nil},
		doubt([]setup.Doubt{{}, {High: 5}, {Kind: setup.Factor, High: 1}, {Kind: setup.Interval, Low: 1, High: 1}},
			[]setup.Doubt{{High: -1}, {High: math.Inf(1)}, {High: math.NaN()}, {Kind: setup.Factor, High: 0.9},
				{Kind: setup.Factor, High: math.Inf(1)}, {Kind: setup.Interval, Low: 2, High: 1}, {Kind: 9}}),
	} {
		for i, change := range slices.Concat(x.good, x.refuse) {
			s := casefile.Invented().Clone()
			s.Limits, s.Temps, s.Target = setup.DefaultLimits(), [2]float64{453.15, 493.15}, 0
			change(s)
			var fields []string
			if err := s.Validate(); err != nil {
				for _, p := range err.(strict.Problems) {
					fields = append(fields, p.Field)
				}
			}
			switch {
			case i < len(x.good) && len(fields) > 0:
				t.Errorf("%s, good value %d: %v are blamed", x.field, i+1, fields)
			case i >= len(x.good) && (len(fields) == 0 || !strings.HasPrefix(x.field, fields[0])):
				t.Errorf("%s, bad value %d: %v are blamed", x.field, i-len(x.good)+1, fields)
			}
		}
	}
}

type bounds = struct {
	field  string
	good   []func(s *setup.Setup)
	refuse []func(s *setup.Setup)
}

// number is a field with the bounds lo and hi; none above where hi is infinite.
func number(field string, lo, hi float64, at func(s *setup.Setup) *float64) bounds {
	to := func(x float64) func(s *setup.Setup) { return func(s *setup.Setup) { *at(s) = x } }
	x := bounds{field, []func(s *setup.Setup){to(lo)}, []func(s *setup.Setup){to(lo*0.99 - 1e-13)}}
	if !math.IsInf(hi, 1) {
		x.good, x.refuse = append(x.good, to(hi)), append(x.refuse, to(hi*1.01))
	}
	return x
}

func doubt(good, refuse []setup.Doubt) bounds {
	to := func(ds []setup.Doubt) (out []func(s *setup.Setup)) {
		for _, d := range ds {
			out = append(out, func(s *setup.Setup) { s.Doubts = map[string]setup.Doubt{"drag": d} })
		}
		return out
	}
	return bounds{"Doubts[drag]", to(good), to(refuse)}
}

// A target may lie anywhere if the search itself is not understood: one fault, one message.
func TestTargetIsHeldAgainstASoundSearchOnly(t *testing.T) {
	s := casefile.Invented().Clone()
	s.Limits.MaxFlow, s.Target = 0, 10e-9
	ps, _ := s.Validate().(strict.Problems)
	if len(ps) != 1 || ps[0].Field != "Limits.MaxFlow" {
		t.Errorf("%v", ps)
	}
}

// The limits that stand where none are given, in edge units.
func TestDefaultLimitsByValue(t *testing.T) {
	l := setup.DefaultLimits()
	for _, x := range [][2]float64{{l.Safety, 1.25}, {l.MinFlow * 1e9, 0.5}, {l.MaxFlow * 1e9, 60}, {l.Residence, 600},
		{l.MountMax, 0}} {
		if math.Abs(x[0]-x[1]) > 1e-9 {
			t.Errorf("%g, want %g", x[0], x[1])
		}
	}
}

// The line of a print: given, or half of the bore high and 1.125 times wide; none where there is no round bore.
func TestPrintLineByHand(t *testing.T) {
	s := casefile.Invented().Clone() // a bore of 0.4 mm
	for _, x := range []struct {
		given, want flow.Line
		assumed     bool
	}{
		{flow.Line{}, flow.Line{Height: 0.2e-3, Width: 0.45e-3}, true},
		{flow.Line{Height: 0.1e-3}, flow.Line{Height: 0.1e-3, Width: 0.45e-3}, true},
		{flow.Line{Height: 0.1e-3, Width: 0.5e-3}, flow.Line{Height: 0.1e-3, Width: 0.5e-3}, false},
	} {
		s.Line = x.given
		l, assumed, ok := s.PrintLine()
		if math.Abs(l.Height-x.want.Height) > 1e-12 || math.Abs(l.Width-x.want.Width) > 1e-12 || assumed != x.assumed ||
			!ok {
			t.Errorf("%+v gives %+v, assumed %v, ok %v", x.given, l, assumed, ok)
		}
	}
	s.Line = flow.Line{}
	s.HotEnd.Sections = []flow.Section{{Shape: flow.Slit, Width: 4e-3, Gap: 0.5e-3, Length: 1e-3, Channels: 1}}
	if l, _, ok := s.PrintLine(); ok {
		t.Errorf("a slit gives the line %+v", l)
	}
}

// A clone's feeder goes with the clone's material where it went with the original's, and keeps another one.
func TestCloneKeepsWhoseMaterialItIs(t *testing.T) {
	s, err := setup.New(small(t))
	if err != nil {
		t.Fatal(err)
	}
	n := s.Clone()
	if n.Material == s.Material || n.Feeder.Stock.Material != n.Material {
		t.Error("the stock of the feeder is not that of the clone")
	}
	f := s.Feeder.Clone()
	f.Model = &feeder.Model{Material: s.Material}
	s.Feeder = f
	if n = s.Clone(); n.Feeder.Model.Material != n.Material {
		t.Error("the model of the feeder is not of the clone's material")
	}
	other := *s.Material
	s.Feeder.Model.Material = &other
	if n = s.Clone(); n.Feeder.Model.Material == n.Material {
		t.Error("the model of the feeder became of the hot end's material")
	}
	s.Feeder.Stock.Material = &other
	if n = s.Clone(); n.Feeder.Stock.Material == n.Material {
		t.Error("the stock of the feeder became that of the hot end")
	}
}

// What goes together: 1 on the diagonal, the pairs named, nothing of pairs that are not asked for.
func TestCorrelationMatrixByHand(t *testing.T) {
	s := setup.Setup{Correlations: []setup.Correlation{{First: "a", Second: "c", Value: 0.5},
		{First: "b", Second: "x", Value: 0.9}}}
	if m := s.CorrelationMatrix([]string{"b", "d"}); m != nil {
		t.Errorf("%v", m)
	}
	m := s.CorrelationMatrix([]string{"a", "b", "c"})
	for i, row := range [3][3]float64{{1, 0, 0.5}, {0, 1, 0}, {0.5, 0, 1}} {
		for j, want := range row {
			if got := m.At(i, j); got != want {
				t.Errorf("%d, %d: %g, want %g", i, j, got, want)
			}
		}
	}
}
