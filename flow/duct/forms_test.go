package duct_test

import (
	"math"
	"testing"

	"meltload/flow/duct"
	"meltload/flow/reference"
	"meltload/materials"
	"meltload/materials/checks"
)

// Quadrature of a power-law melt against its closed forms: tube, slit, cone either way round, at little stress too; no
// flow takes no stress.
func TestQuadratureOfAPowerLaw(t *testing.T) {
	const k, n, q = 6000.0, 0.4, 5e-9
	l, m := reference.PowerLaw(k, n), reference.PowerMelt{K: k, N: n}
	tube, tau, _ := m.Tube(q, 0.4e-3, 7e-3)
	checks.Near(t, "drop of a tube", l.TubeDrop(q, 0.4e-3, 7e-3), tube, 1e-6)
	checks.Near(t, "flow of a tube", l.TubeFlow(tau, 0.4e-3), q, 1e-6)
	slit, tau, _ := m.Slit(q, 8e-3, 0.5e-3, 7e-3)
	checks.Near(t, "drop of a slit", l.SlitDrop(q, 8e-3, 0.5e-3, 7e-3), slit, 1e-6)
	checks.Near(t, "flow of a slit", l.SlitFlow(tau, 8e-3, 0.5e-3), q, 1e-6)
	cone := m.Cone(q, 1e-3, 0.3e-3, math.Atan(0.7/2.5))
	checks.Near(t, "drop of a cone", l.ConeDrop(q, 1e-3, 0.3e-3, 2.5e-3), cone, 1e-6)
	checks.Near(t, "drop of a cone that widens", l.ConeDrop(q, 0.3e-3, 1e-3, 2.5e-3), cone, 1e-6)
	if flat, even := l.ConeDrop(q, 1e-3, 0.3e-3, 0), l.RadialDrop(q, 1e-3, 1e-3); flat != 0 || even != 0 {
		t.Errorf("a flat entrance loses %g Pa by lubrication, a cone of one radius %g Pa", flat, even)
	}
	// A quarter of a pascal in a melt of 1 Pa s: pi R^3/4 of it.
	water := reference.PowerLaw(1, 1)
	checks.Near(t, "flow at little stress", water.TubeFlow(0.25, 1e-3), math.Pi*1e-9/16, 1e-9)
	if still := water.TubeFlow(0, 1e-3); still != 0 || water.TubeStress(0, 1e-3) != 0 ||
		water.SlitStress(0, 1, 1) != 0 {
		t.Errorf("no stress drives %g m3/s", still)
	}
}

// The tables hold to their ends, 2^-40 and 2^60 times the stress scale, and keep the ratio of stress to reduced rate
// beyond: a melt is Newtonian at the low end, and follows its power law at the high one. The closed forms are those of
// a power law, the wall rate being (3n+1)/4n times the apparent one in a tube, (2n+1)/3n in a slit.
func TestTablesToTheirEnds(t *testing.T) {
	const n, scale = 0.3, 2e4
	for _, x := range []struct {
		what  string
		table *duct.StressTable
		wall  float64 // true over apparent wall rate of a power law
		power bool    // a power law at the low end too
	}{
		{"tube", duct.NewTubeTable(materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: scale}),
			(3*n + 1) / (4 * n), true},
		{"slit", duct.NewSlitTable(materials.FlowCurve{Kind: materials.PowerLaw, N: n, Tau: scale}),
			(2*n + 1) / (3 * n), true},
		{"tube of Cross", duct.NewTubeTable(materials.FlowCurve{Kind: materials.Cross, N: n, Tau: scale}),
			(3*n + 1) / (4 * n), false},
		{"slit of Cross", duct.NewSlitTable(materials.FlowCurve{Kind: materials.Cross, N: n, Tau: scale}),
			(2*n + 1) / (3 * n), false},
	} {
		ratio := func(y float64) float64 { return math.Pow(x.wall*y, n) / y } // stress over apparent rate, in scales
		high, low := math.Ldexp(1, 60), math.Ldexp(1, -40)
		at := func(y float64) float64 { return x.table.At(y*scale) / (y * scale) }
		checks.Near(t, x.what+" below the high end", at(0.99*high), ratio(0.99*high), 1e-5)
		checks.Near(t, x.what+" beyond it", at(3*high), ratio(high), 1e-5)
		want := func(y float64) float64 {
			if x.power {
				return ratio(y)
			}
			return 1
		}
		checks.Near(t, x.what+" above the low end", at(1.01*low), want(1.01*low), 1e-5)
		checks.Near(t, x.what+" beyond it", at(low/3), want(low), 1e-5)
	}
}

// Sizes of runners by hand, of any size: a half circle of 3 mm; a trapezoid of 5 and 3 mm sides 4 mm apart.
func TestSizesOfRunners(t *testing.T) {
	h := duct.HalfRound(3e-3)
	checks.Near(t, "area of a half circle", h.Area, math.Pi*4.5e-6, 1e-12)
	checks.Near(t, "its way round", h.Perimeter, (math.Pi+2)*3e-3, 1e-12)
	checks.Near(t, "its hydraulic diameter", h.HydraulicDiameter(), 4*math.Pi*4.5e-6/((math.Pi+2)*3e-3), 1e-12)
	// Four times the flow area at twice the size: the drop of a Newtonian melt is a sixteenth.
	checks.Near(t, "drop at twice the size", duct.HalfRound(6e-3).PowerDrop(100, 1, 1e-8, 0.01),
		h.PowerDrop(100, 1, 1e-8, 0.01)/16, 1e-12)
	z := duct.Trapezoid(5e-3, 3e-3, 4e-3)
	checks.Near(t, "area of a trapezoid", z.Area, 16e-6, 1e-12)
	checks.Near(t, "its way round", z.Perimeter, 8e-3+2*math.Sqrt(17)*1e-3, 1e-12)
}
