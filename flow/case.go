package flow

import (
	"errors"
	"fmt"
	"math"

	"meltload/materials"
	"meltload/materials/unit"
	"meltload/thermal"
)

// Shape is the cross-section of a Section.
type Shape int

// The shapes of section.
const (
	Tube Shape = iota
	Cone
	Slit
	Ring // an annulus
)

func (s Shape) String() string { return [...]string{"tube", "cone", "slit", "annulus"}[s] }

// Wall is the wall temperature of a section: offsets from the block (K), or
// fixed temperatures (K), linear from start to end.
type Wall struct {
	Start, End float64
	Fixed      bool
}

// At returns the wall temperature (K) at the fraction x in [0, 1] of the length under a block at the temperature block
// (K).
func (w Wall) At(x, block float64) float64 {
	t := w.Start + x*(w.End-w.Start)
	if w.Fixed {
		return t
	}
	return block + t
}

// Section is one piece of the melt path.
type Section struct {
	Name     string
	Shape    Shape
	D1, D2   float64 // m; diameter at inlet and outlet (equal in a tube); outer and inner diameter of an annulus
	Width    float64 // m, slit
	Gap      float64 // m, slit
	Length   float64 // m; 0 for a flat entrance (cone of 180 deg)
	Half     float64 // rad, half angle of a cone
	Channels int     // identical parallel channels, at least 1
	Wall     Wall
	// W/(m2 K), heat-transfer coefficient from the wall to stock that wets it; +Inf for perfect contact
	H float64
}

// DefaultWettedH is the heat-transfer coefficient (W/(m2 K)) from the wall to melt that wets it where none is given:
// assumed, with a plausible range of 3,000 to infinity.
const DefaultWettedH = 10e3

// Radius returns the radius (m) of a tube or cone at the fraction x in [0, 1] of its length.
func (s *Section) Radius(x float64) float64 { return (s.D1 + x*(s.D2-s.D1)) / 2 }

// Planar tells whether the section is solved across a gap, and returns its
// width and gap (m). An annulus is unrolled at its mean circumference: 0.5 %
// low in flow at a radius ratio of 0.7, 4 % at 0.4 (Newtonian).
func (s *Section) Planar() (width, gap float64, planar bool) {
	switch s.Shape {
	case Slit:
		return s.Width, s.Gap, true
	case Ring:
		return math.Pi * (s.D1 + s.D2) / 2, (s.D1 - s.D2) / 2, true
	}
	return 0, 0, false
}

// Volume returns the melt volume of all channels, m3.
func (s *Section) Volume() float64 {
	var a float64
	switch s.Shape {
	case Tube, Cone:
		a = math.Pi / 12 * (s.D1*s.D1 + s.D1*s.D2 + s.D2*s.D2)
	default:
		w, g, _ := s.Planar()
		a = w * g
	}
	return a * s.Length * float64(s.Channels)
}

// resize gives every diameter or gap equal to from (m) the value to, not less than a fifth of it; cones keep their
// angle.
func (s *Section) resize(from, to float64) {
	to = math.Max(to, 0.2*from)
	same := func(d float64) bool { return math.Abs(d-from) < 1e-9 }
	switch {
	case s.Shape == Slit && same(s.Gap):
		s.Gap = to
	case s.Shape == Tube && same(s.D1):
		s.D1, s.D2 = to, to
	case s.Shape == Cone && same(s.D2) && s.D1 > to:
		s.D2 = to
		if s.Length > 0 {
			s.Length = (s.D1 - s.D2) / 2 / math.Tan(s.Half)
		}
	}
}

// HotEnd is the melt path from the cold side to the exit, with its heater.
type HotEnd struct {
	Name     string
	Sections []Section
	Block    thermal.Block
	Mass     float64 // kg, 0 if not given
	Cost     float64 // in the user's money, 0 if not given
	// TipDrop is how far the wall of the cone and of all that follows it lies below the block sensor, K. It is added to
	// Section.Wall where that is relative to the block.
	TipDrop float64
	// HeatedShare is the share (0 to 1) of the stated length before the cone that heats the stock: the top of a barrel
	// is colder than its block. The first 1 - HeatedShare of that length is passed without heat and without load. 0
	// means 1.
	HeatedShare float64
}

// DefaultTipDrop is the tip's temperature below the sensor (K) where none is given: assumed, with a plausible range of
// 0 to 15 K. Calculated values of others are 0.4 to 7 K for brass and 2 to 30 K for hardened steel at high flow.
const DefaultTipDrop = 5

// Volume returns the melt volume, m3.
func (h *HotEnd) Volume() float64 {
	var v float64
	for i := range h.Sections {
		v += h.Sections[i].Volume()
	}
	return v
}

// Bore returns the narrowest diameter or gap of the path, m.
func (h *HotEnd) Bore() float64 {
	b := math.Inf(1)
	for i := range h.Sections {
		s := &h.Sections[i]
		if _, g, ok := s.Planar(); ok {
			b = math.Min(b, g)
		} else {
			b = math.Min(b, math.Min(s.D1, s.D2))
		}
	}
	return b
}

// Rebore gives the narrowest passage (m), and what leads into it, the width to.
func (h *HotEnd) Rebore(to float64) {
	from := h.Bore()
	for i := range h.Sections {
		h.Sections[i].resize(from, to)
	}
}

// Filament is the stock.
type Filament struct {
	Diameter  float64 // m
	Tolerance float64 // m, plus or minus
	Inlet     float64 // K, temperature at the top of the heated length
}

// Path is the cold side between feeder and hot end. The force at the feeder is
// (F + Drag) exp(Friction Bend): the capstan rule for a rod pushed round a bend, its weight and
// stiffness ignored.
type Path struct {
	Drag     float64 // N, constant: spool, seals, guides
	Bend     float64 // rad, sum of bend angles
	Friction float64
}

// Force returns the force (N) at the feeder for a force f (N) at the hot end: drag and bends of the path,
//
//	F = (f + Drag) e^(mu theta)
//
// Capstan equation: filament without stiffness that slides in a tube.
func (p Path) Force(f float64) float64 { return (f + p.Drag) * math.Exp(p.Friction*p.Bend) }

// Inverse returns the force (N) that arrives at the hot end of a force f (N) at the feeder.
func (p Path) Inverse(f float64) float64 {
	return math.Max(0, f*math.Exp(-p.Friction*p.Bend)-p.Drag)
}

// DefaultHeatedShare is HotEnd.HeatedShare where a length is stated and nothing else is known: the middle of a
// plausible range of 50 to 100 %, assumed. A melt zone read off a trace (by the volume fed until cold stock arrives) is
// the effective one: its share is 1.
const DefaultHeatedShare = 0.75

// Stock says how the filament sits in the barrel before it melts.
type Stock struct {
	// Stick lets the stock fill the bore without slip from the first millimetre, heated with the heat-transfer
	// coefficient of its section: the boundary condition of the finite-element tables, kept for comparison. Otherwise a
	// rod slides in an air gap until it softens.
	Stick bool
	// Eccentricity is the offset of the rod's axis over the gap, 0 (concentric) to 1 (touching; less than 1 is needed).
	Eccentricity float64
}

// DefaultEccentricity of the rod in the barrel where none is given: assumed, with a plausible range of 0 to 0.9.
const DefaultEccentricity = 0.4

// Case is everything a solver needs besides block temperature and flow.
type Case struct {
	Material *materials.Material
	Filament Filament
	Stock    Stock
	HotEnd   HotEnd
	Path     Path
	// EntranceFactor multiplies the entrance loss of the material (materials.Entrance); 0 means 1.
	EntranceFactor float64
	// ViscosityFactor multiplies the zero-shear viscosity of the material, the shape of its curve kept; 0 means 1.
	ViscosityFactor float64
}

// Fluidity returns 1/eta0 in 1/(Pa s) at T (K) and p (Pa) with the case's viscosity factor; the solid cap does not
// scale.
func (c *Case) Fluidity(T, p float64) float64 {
	v := &c.Material.Viscosity
	f := v.Fluidity(T, p)
	if c.ViscosityFactor > 0 {
		f = (f-1/v.Cap)/c.ViscosityFactor + 1/v.Cap
	}
	return f
}

// Area returns the filament cross-section, m2.
func (c *Case) Area() float64 { return unit.Disc(c.Filament.Diameter) }

// SectionSolution is the result for one section; pressures in Pa, temperatures in K.
type SectionSolution struct {
	Name       string
	Drop       float64 // total
	Shear      float64 // part by shear
	Elongation float64 // part by elongation of the viscous melt
	// MeltElongation is the part of Elongation spent on stock above the flow point.
	MeltElongation float64
	Entrance       float64 // part by the melt's elasticity beyond that, where the section narrows into a bore
	Pressure       float64 // at the inlet
	Bulk           float64 // mixing-cup temperature at the end
	Centre         float64 // centre temperature at the end
	Wall           float64 // wall temperature at the end
	CoreRadius     float64 // m, radius of the core still below T_flow at the end
	WallHeat       float64 // W into the polymer
	Viscous        float64 // W made by flow
	WallStress     float64 // Pa, largest
	WallRate       float64 // 1/s, largest
	Residence      float64 // s, volume over flow
}

// Solution is a solver's result at one block temperature and flow.
type Solution struct {
	Block    float64 // K
	Flow     float64 // m3/s of filament
	Speed    float64 // m/s of filament
	Pressure float64 // Pa at the top of the melt path
	Force    float64 // N on the filament, p pi d^2/4
	Push     float64 // N at the feeder, path drag and bends counted

	Sections []SectionSolution

	EntryCentre    float64 // K, centre at the cone entry
	EntryBulk      float64 // K, mixing cup at the cone entry
	ExitBulk       float64 // K
	ExitCentre     float64 // K
	WallHeat       float64 // W from the block into the polymer
	Viscous        float64 // W
	Heater         float64 // W, electrical power with block losses
	Residence      float64 // s
	BeyondEntrance bool    // a wall stress lies beyond the range of the entrance law
	// Pa of Pressure spent along a wall before the surface has reached the flow point; marching only
	BelowFlowPoint float64
	Stored         float64 // W going into the melt's own heat content; 0 in steady flow

	Stretches Stretches
	Load      Load
	// m2: Force over Pressure, the filament's cross-section and the drag of the melt that wets the rod
	PushArea     float64
	MeltsThrough bool    // the centre reaches the cone at or above the flow point
	WallStress   float64 // Pa, the largest of the sections

	Stats Stats
}

// Stretches are the parts of the path before the cone by the state of the stock. Lengths in m, along the path.
type Stretches struct {
	Unheated float64 // above the effective heated length, see HotEnd.HeatedShare
	Rod      float64 // a solid rod in an air gap
	Wetted   float64 // the bore is full, the core still slides as a plug on melt that circulates in the old gap
	Held     float64 // melt held by the wall, up to the cone
	Leak     float64 // melt squeezed back up the gap past the end of the rod, part of the length of Rod
	// WettedShare is the share of the wall before the cone that stock touches: (Wetted + Held) over all.
	WettedShare float64
	Gap         float64 // m, (bore - filament)/2 where the filament enters
	GapH        float64 // W/(m2 K) through the air gap, conduction and radiation, at the top of the rod
	Softening   float64 // K, bulk temperature at the end of the rod; 0 with no rod
	Solid       bool    // the rod still stands where it meets the cone
}

// Load is the force on the filament by where it is spent, N. The sum is Solution.Force; Drag comes on top of it at the
// feeder.
type Load struct {
	Barrel   float64 // all sections before the cone
	Cone     float64 // shear and elongation in narrowing sections
	Entrance float64 // elastic entrance loss
	Bore     float64 // all sections after the first narrowing that do not narrow
	Drag     float64 // path drag and bends: Push - Force
}

// Stats tells how hard a solver worked and how well its balances close.
type Stats struct {
	Stations    int     // axial stations
	Cells       int     // radial cells
	Passes      int     // profile passes over all stations
	HeatBalance float64 // relative error of the enthalpy balance
	WorkBalance float64 // relative error of flow work against viscous heat
	MassBalance float64 // relative error of the mass carried to the exit
	Misfit      float64 // largest relative misfit of a velocity profile before its last Newton step
	RanOut      string  // the loop that ran out of passes before it settled; "" if none did
}

// Solver answers: what pressure does this case need at this block temperature
// (K) and filament flow (m3/s)? Results go to r, whose slices are reused. A
// Solver is not safe for concurrent use; Clone gives each goroutine its own.
type Solver interface {
	Solve(block, q float64, r *Solution) error
	Clone() Solver
	Name() string
}

// ErrInput reports a flow or temperature that no solver takes.
var ErrInput = errors.New("flow: block temperature or flow out of range")

// ErrUnsolved reports a case whose numbers leave what can be computed.
var ErrUnsolved = errors.New("flow: no finite answer; look for a size, length or heat-transfer coefficient that " +
	"cannot be meant")

// CheckInput says whether a block temperature (K) and a flow (m3/s) can be solved: a wrapped ErrInput unless the flow
// is positive and finite and the temperature lies between 250 and 800 K.
func CheckInput(block, q float64) error {
	if !(q > 0 && q <= 1e-3) {
		return fmt.Errorf("%w: flow %g mm3/s (more than 0, at most 1e6)", ErrInput, q/unit.MM3)
	}
	if !(block >= minBlock && block <= maxBlock) {
		return fmt.Errorf("%w: block at %g degC (-23 to 527)", ErrInput, unit.Celsius(block))
	}
	return nil
}

// Prepare is for solvers: it sets the sizes and totals of r that do not depend on the solver, for a block temperature
// (K) and a flow (m3/s).
func (c *Case) Prepare(block, q float64, r *Solution) {
	n := len(c.HotEnd.Sections)
	if cap(r.Sections) < n {
		r.Sections = make([]SectionSolution, n)
	}
	s := r.Sections[:n]
	for i := range s {
		s[i] = SectionSolution{Name: c.HotEnd.Sections[i].Name}
	}
	*r = Solution{Block: block, Flow: q, Speed: q / c.Area(), Sections: s}
}

// Finish is for solvers: it fills what follows from the sections, that is pressures, forces and heater power. Error:
// ErrUnsolved if they are not finite.
func (c *Case) Finish(r *Solution) error {
	var p, t float64
	for i := len(r.Sections) - 1; i >= 0; i-- {
		s := &r.Sections[i]
		p += s.Drop
		s.Pressure = p
		t += s.Residence
		r.WallHeat += s.WallHeat
		r.Viscous += s.Viscous
	}
	r.Pressure, r.Residence = p, t
	if r.PushArea == 0 {
		r.PushArea = c.Area()
	}
	r.Force = p * r.PushArea
	r.Push = c.Path.Force(r.Force)
	r.Heater = c.HotEnd.Block.PowerFor(r.Block, r.WallHeat)
	last := r.Sections[len(r.Sections)-1]
	r.ExitBulk, r.ExitCentre = last.Bulk, last.Centre
	if e := c.ConeEntry(); e > 0 {
		r.EntryBulk, r.EntryCentre = r.Sections[e-1].Bulk, r.Sections[e-1].Centre
	} else {
		r.EntryBulk, r.EntryCentre = c.Filament.Inlet, c.Filament.Inlet
	}
	r.MeltsThrough = r.EntryCentre >= c.Material.FlowPoint()
	c.split(r)
	for _, x := range [...]float64{r.Push, r.ExitBulk, r.ExitCentre, r.EntryCentre, r.Heater} {
		if !(math.Abs(x) <= math.MaxFloat64) {
			return ErrUnsolved
		}
	}
	return nil
}

// split fills Load, the share of wetted wall and the largest wall stress from the sections.
func (c *Case) split(r *Solution) {
	cone := c.ConeEntry()
	var length float64
	for i := range r.Sections {
		s := &r.Sections[i]
		f := (s.Drop - s.Entrance) * r.PushArea
		r.Load.Entrance += s.Entrance * r.PushArea
		switch {
		case i < cone:
			length += c.HotEnd.Sections[i].Length
			r.Load.Barrel += f
		case c.Narrows(i):
			r.Load.Cone += f
		default:
			r.Load.Bore += f
		}
		r.WallStress = math.Max(r.WallStress, s.WallStress)
	}
	r.Load.Drag = r.Push - r.Force
	if st := &r.Stretches; length > 0 {
		st.WettedShare = math.Min(1, (st.Wetted+st.Held)/length)
	}
}

// Warnings returns the remarks that a result carries: material, validity
// ranges, unmelted core, viscous heating, decomposition.
func (c *Case) Warnings(r *Solution) []materials.Warning {
	m := c.Material
	w := m.Warnings()
	add := func(code, format string, a ...any) {
		w = materials.AddWarning(w, materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
	}
	if r.Stats.RanOut != "" {
		add("not-settled", "the solution has not settled (%s: out of passes): its numbers are not to be used; look "+
			"for a flow, temperature or size that cannot be meant", r.Stats.RanOut)
	}
	if !c.Melts(r.Block) {
		add("block-below-flow-point", "the block at %.0f degC is below the flow point of %.0f degC: the stock does "+
			"not melt anywhere. The force is that of stock at its strength, and at least that of melt at the flow "+
			"point. It is no basis for a usable flow, and none is given. Raise the block temperature",
			unit.Celsius(r.Block), unit.Celsius(m.FlowPoint()))
	}
	// half a kelvin: at the limit itself the search ends on either side
	if tf := m.FlowPoint(); r.EntryCentre < tf-0.5 {
		add("cold-core", "the centre enters the cone at %.0f degC, below the flow point of %.0f degC: the load then "+
			"depends on how the unmelted core yields, and layers may bond worse; lower the flow, raise the "+
			"temperature or lengthen the melt zone to melt it through",
			unit.Celsius(r.EntryCentre), unit.Celsius(tf))
	}
	if x := &r.Stretches; x.Solid {
		add("solid-stock", "the filament reaches the cone as a solid rod, at a bulk temperature of %.0f degC; it "+
			"would soften at %.0f degC under this push: a longer or hotter melt zone, a narrower bore around the "+
			"filament, or less flow", unit.Celsius(r.EntryBulk), unit.Celsius(x.Softening))
	} else if x.Softening > 0 && x.Rod == 0 {
		add("rod-crushed", "the push of %.0f N is more than the filament carries where it enters the heated length: "+
			"it yields there; lower the flow or raise the temperature", r.Force)
	}
	thick := c.Filament.Diameter + c.Filament.Tolerance
	if s := &c.HotEnd.Sections[0]; !c.Stock.Stick && s.round() && s.D1 <= thick {
		add("tight-barrel", "by its tolerance the filament may be %.4g mm thick, and the melt zone is %.4g mm wide at "+
			"its top: it may jam there, which is not computed; widen the melt zone or take filament of less tolerance",
			thick/unit.MM, s.D1/unit.MM)
	}
	if r.BeyondEntrance {
		add("entrance-range", "the wall stress of %.2f MPa is above %.2f MPa, the most that the law of the entrance "+
			"loss covers: melts fracture or slip there; the loss is extrapolated along a straight line",
			r.WallStress/unit.MPa, materials.EntranceLimit/unit.MPa)
	}
	if r.BelowFlowPoint > 0.1*r.Pressure {
		add("stiff-surface", "%.0f %% of the load comes from stock whose surface is below the flow point, where the "+
			"material data do not tell its strength: better wall contact or less flow lowers this share",
			100*r.BelowFlowPoint/r.Pressure)
	}
	for i := range r.Sections {
		s := &r.Sections[i]
		w = materials.AddWarning(w, m.Viscosity.Check("section "+s.Name, s.WallRate, s.Wall)...)
	}
	if rise := thermal.AdiabaticRise(r.Pressure, m.Density.Melt, m.Heat.Capacity(r.Block)); rise > 10 {
		add("viscous-heating",
			"viscous heating: the pressure drop alone would warm the melt by up to %.0f K; an isothermal estimate is "+
				"not reliable here", rise)
	}
	if r.Block > m.Decomposition {
		add("decomposition", "the block at %.0f degC is above the decomposition onset of %.0f degC: %s",
			unit.Celsius(r.Block), unit.Celsius(m.Decomposition), m.Hazard)
	} else if r.Block > m.Window[1] {
		add("above-window", "the block at %.0f degC is above the processing window of %.0f to %.0f degC: %s",
			unit.Celsius(r.Block), unit.Celsius(m.Window[0]), unit.Celsius(m.Window[1]), m.Hazard)
	} else if r.Block < m.Window[0] {
		add("below-window", "the block at %.0f degC is below the processing window of %.0f to %.0f degC: layers may "+
			"not bond", unit.Celsius(r.Block), unit.Celsius(m.Window[0]), unit.Celsius(m.Window[1]))
	}
	return w
}

// ViscousNumbers are the largest Nahme number of the sections, at their largest wall stress and rate, and the Brinkman
// number there. Nahme: heat made by flow against the temperature step over which viscosity changes e-fold. Brinkman:
// against the step from wall to mixing cup, at least 1 K. Both say what a channel long enough for conduction to settle
// would see; in a short one the adiabatic rise bounds the heating, and it makes the warning. Source: see
// thermal.Shear.
func (c *Case) ViscousNumbers(d *Solution) (nahme, brinkman float64) {
	m := c.Material
	for i := range d.Sections {
		s, x := &d.Sections[i], &c.HotEnd.Sections[i]
		r := math.Min(x.D1, x.D2) / 2
		if _, gap, planar := x.Planar(); planar {
			r = gap / 2
		}
		b := math.Log(m.Viscosity.Fluidity(s.Wall+1, 0)/m.Viscosity.Fluidity(s.Wall-1, 0)) / 2
		w := thermal.Shear{Stress: s.WallStress, Rate: s.WallRate, Radius: r, K: m.Conductivity.At(s.Wall)}
		if na := w.Nahme(b); na >= nahme {
			nahme, brinkman = na, w.Brinkman(math.Max(1, math.Abs(s.Wall-s.Bulk)))
		}
	}
	return nahme, brinkman
}
