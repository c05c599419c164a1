package flow

import (
	"math"

	"meltload/materials"
	"meltload/materials/num"
)

// Constants of the air gap between a solid rod and the barrel.
const (
	Emissivity      = 0.9            // of rod and wall together, assumed
	stefanBoltzmann = 5.670374419e-8 // W/(m2 K4), CODATA 2018
	airConductivity = 0.0263         // W/(m K) at 300 K and 1 bar
	airReference    = 300.0          // K
	airGrowth       = 0.88           // of the conductivity, as a share, with temperature, as a share beyond 300 K
	airBend         = -0.096         // and with its square: within 0.3 % of the table from 300 to 600 K
	leastGap        = 2e-6           // m: a rod that fits more tightly is heated through this, as it is rough; assumed
)

// GapH returns the heat-transfer coefficient (W/(m2 K), on the rod's surface) from the wall of a bore to a solid rod
// through air, conduction between eccentric cylinders and radiation between close surfaces:
//
//	h = k_air/(r acosh[(R^2 + r^2 - x^2)/(2 R r)]) + 4 eps sigma T_m^3,  x = eccentricity (R - r)        (1)
//
// rod and bore are diameters (m) with 0 < rod < bore, eccentricity is 0 to less than 1, film the mean temperature of
// wall and rod (K), which gives T_m and k_air. 326 W/(m2 K) for 1.75 in 2.0 mm concentric at 430 K. Source: shape
// factor of eccentric cylinders, F. P. Incropera and others, Fundamentals of Heat and Mass Transfer, Table 4.1, k_air
// Table A.4 (from memory).
func GapH(rod, bore, eccentricity, film float64) float64 {
	r, R := rod/2, math.Max(bore, rod+2*leastGap)/2
	x := eccentricity * (R - r)
	// acosh(1 + y) for small y: what matters is the difference.
	y := ((R-r)*(R-r) - x*x) / (2 * R * r)
	u := film/airReference - 1
	k := airConductivity * (1 + u*(airGrowth+u*airBend))
	return k/(r*math.Log1p(y+math.Sqrt(y*(2+y)))) + 4*Emissivity*stefanBoltzmann*film*film*film
}

// GapDrag returns c of the drag that melt in a narrow gap puts on a rod moving through it, where the melt circulates
// with no net flow against the pressure p: shear stress on the rod = c g dp/dz. 2/3 for a Newtonian melt, 0.61 at n =
// 0.25; n is the power-law index, 0 < n <= 1. The plane gap solved for zero net flow: with m = 1/n and the stress zero
// at the share y of the gap from the wall,
//
//	y^(m+2) + (1-y)^(m+2) = (m+2) y^(m+1),  c = 1 - y        (2)
//
// derived here.
func GapDrag(n float64) float64 {
	m := 1 / n
	f := func(y float64) float64 { return math.Pow(y, m+2) + math.Pow(1-y, m+2) - (m+2)*math.Pow(y, m+1) }
	y, _ := num.Root(f, 0, 0.5, 1e-12) // f is 1 at 0, and -(m+1)/2^(m+1) at 1/2
	return 1 - y
}

// PushArea returns the force on the filament over the pressure of the melt (m2): its cross-section and the drag of the
// melt that wets it in a bore (diameter, m) while it slides, A_f (1 + 4 c g/d) with the gap g = (bore - d)/2 and c of
// GapDrag.
func (c *Case) PushArea(bore float64) float64 {
	d := c.Filament.Diameter
	g := math.Max(0, (bore-d)/2)
	return c.Area() * (1 + 4*GapDrag(c.Material.Viscosity.N)*g/d)
}

// ConeEntry returns the index of the section where a core that has not melted is squeezed: the first that narrows to
// less than the filament, or that is no single round channel. It is the last section if there is none.
func (c *Case) ConeEntry() int {
	d := c.Filament.Diameter
	all := c.HotEnd.Sections
	for i := range all {
		s := &all[i]
		if c.Narrows(i) && s.D2 < d ||
			i > 0 && (!s.round() || s.Channels > 1 || s.D1 < all[i-1].D2 && s.D1 < d) {
			return i
		}
	}
	return max(0, len(all)-1)
}

// Unheated returns the length (m) from the top of the path that is passed without heat and load, see
// HotEnd.HeatedShare.
func (c *Case) Unheated() float64 {
	if c.HotEnd.HeatedShare <= 0 || c.HotEnd.HeatedShare >= 1 {
		return 0
	}
	var l float64
	for _, s := range c.HotEnd.Sections[:c.ConeEntry()] {
		l += s.Length
	}
	return (1 - c.HotEnd.HeatedShare) * l
}

// WallAt returns the wall temperature (K) at the fraction x of section i under a block at the temperature block (K);
// the tip is HotEnd.TipDrop colder from the cone on.
func (c *Case) WallAt(i int, x, block float64) float64 {
	w := c.HotEnd.Sections[i].Wall
	if !w.Fixed && i > 0 && i >= c.ConeEntry() {
		block -= c.HotEnd.TipDrop
	}
	return w.At(x, block)
}

// Melts tells whether any wall of the path is at the flow point or above, under a block at the temperature block (K).
func (c *Case) Melts(block float64) bool {
	for i := range c.HotEnd.Sections {
		if math.Max(c.WallAt(i, 0, block), c.WallAt(i, 1, block)) >= c.Material.FlowPoint() {
			return true
		}
	}
	return false
}

// EntranceCone is the entrance loss of a cone over that of a flat entrance: (0.16 t^(-5/3) + a/200)/(0.16 t^(-5/3) +
// 0.45) with the half angle a in degrees (given in rad) and t = 0.5, after A. G. Gibson, Composites 20 (1989) 57 (the
// form as cited by others; t assumed).
func EntranceCone(half float64) float64 {
	const t = 0.5
	k := 0.16 * math.Pow(t, -5.0/3)
	return (k + half*180/math.Pi/200) / (k + 0.45)
}

// EntranceLoss returns the pressure (Pa) that the melt loses in the contraction section i by its elasticity, beyond
// what its viscosity took there: max(0, factor K (tau/0.1 MPa)^c EntranceCone - viscous), by the wall stress tau (Pa)
// of the passage that follows and the drop by elongation already counted, viscous (Pa). over tells that tau lies beyond
// the range of the law.
func (c *Case) EntranceLoss(i int, tau, viscous float64) (loss float64, over bool) {
	e := &c.Material.Entrance
	if e.K == 0 {
		return 0, false
	}
	f := c.EntranceFactor
	if f == 0 {
		f = 1
	}
	return math.Max(0, f*e.At(tau)*EntranceCone(c.HotEnd.Sections[i].Half)-viscous), tau > materials.EntranceLimit
}

// Narrows tells whether section i is a contraction into a narrower passage.
func (c *Case) Narrows(i int) bool {
	s := &c.HotEnd.Sections[i]
	return s.Shape == Cone && s.D2 < s.D1
}
