package calibrate

import (
	"context"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"meltload/flow/assess"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/materials/num"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// Spiral is one measured filling of a long strip, straight or wound to a spiral: how far the melt ran.
type Spiral struct {
	Block, Mould     float64 // K
	Flow             float64 // m3/s, set
	Thickness, Width float64 // m
	Length           float64 // m, measured from the gate to the tip
	U                float64 // m, standard uncertainty; 0 takes SpiralU of the length
}

// SpiralU is the standard uncertainty of a length, as a share, where none is given: what repeats of one operator show
// (assumed).
const SpiralU = 0.05

// ReadSpirals reads measured lengths from CSV with a header: block_degC, mould_degC, flow_mm3_s, thickness_mm,
// width_mm, length_mm and, if wanted, u_mm. Lines that begin with # are remarks. Every bad cell is reported.
func ReadSpirals(name string, r io.Reader) ([]Spiral, error) {
	rows, err := strict.Table(name, r, []strict.Column{
		{Name: "block_degC", Lo: 50, Hi: 500},
		{Name: "mould_degC", Lo: -20, Hi: 350},
		{Name: "flow_mm3_s", Lo: 0.01, Hi: 1000},
		{Name: "thickness_mm", Lo: 0.1, Hi: 20},
		{Name: "width_mm", Lo: 0.1, Hi: 200},
		{Name: "length_mm", Lo: 0.5, Hi: 5000},
		{Name: "u_mm", Lo: 0.01, Hi: 1000, Optional: true},
	})
	if err != nil {
		return nil, err
	}
	out := make([]Spiral, len(rows))
	for i, m := range rows {
		out[i] = Spiral{Block: unit.Kelvin(m["block_degC"]), Mould: unit.Kelvin(m["mould_degC"]),
			Flow:      m["flow_mm3_s"] * unit.MM3,
			Thickness: m["thickness_mm"] * unit.MM, Width: m["width_mm"] * unit.MM, Length: m["length_mm"] * unit.MM,
			U: m["u_mm"] * unit.MM}
	}
	return out, nil
}

// SpiralFit is what spirals tell about a mould.
type SpiralFit struct {
	Contact, NoFlow   SpiralValue // W/(m2 K), K
	Before, Predicted []float64   // m, in the order of the spirals
	RMS               float64     // of ln(predicted/measured)
	Was               float64     // the same before
	Solves            int
	Settled           bool
}

// SpiralValue is a fitted number with its 95 % interval.
type SpiralValue struct {
	Start, Value, Low, High float64
	Known                   bool // the interval is narrower than what was thought before
	Why                     string
}

// The bounds of the fit.
const (
	spiralContactLow = 200 // W/(m2 K)
	spiralNoFlow     = 50  // K either way of the start
)

type spiralFit struct {
	ctx    context.Context
	s      *setup.Setup
	points []Spiral
	supply []*assess.Supply
	start  float64 // K
	// reach is how far melt runs (m), row by row: fill
	reach  func(contact, noFlow float64) ([]float64, error)
	solves int
	failed error
}

// FitSpirals fits the contact of melt and mould and the no-flow temperature of a set-up to how far melt ran. Lengths
// answer as their logarithms; the contact is sought by its resistance, so that perfect contact is 0. Errors: no mould,
// no points, a filling without answer, a cancelled context.
func FitSpirals(ctx context.Context, s *setup.Setup, points []Spiral) (*SpiralFit, error) {
	f, err := newSpiralFit(ctx, s, points)
	if err != nil {
		return nil, err
	}
	out := &SpiralFit{}
	out.Contact.Start, out.NoFlow.Start = s.Mould.Contact, f.start
	if out.Before, err = f.reach(s.Mould.Contact, f.start); err != nil {
		return nil, err
	}
	out.Was = f.rms(out.Before)
	x, settled, err := f.search(unknowns{1 / s.Mould.Contact})
	if err != nil {
		return nil, err
	}
	out.Settled = settled
	contact, noFlow := f.values(x)
	if out.Predicted, err = f.reach(contact, noFlow); err != nil {
		return nil, err
	}
	out.RMS = f.rms(out.Predicted)
	out.Contact.Value, out.NoFlow.Value = contact, noFlow
	j, err := f.jacobian(x)
	if err != nil {
		return nil, err
	}
	out.Solves = f.solves
	return out, f.intervals(out, x, j)
}

// newSpiralFit makes what feeder and hot end give for every row.
func newSpiralFit(ctx context.Context, s *setup.Setup, points []Spiral) (*spiralFit, error) {
	if s.Mould == nil {
		return nil, fmt.Errorf("spirals need a mould in the case: its material and the way from the nozzle to the gate")
	}
	if len(points) == 0 {
		return nil, fmt.Errorf("no measured lengths")
	}
	f := &spiralFit{ctx: ctx, s: s, points: points, start: s.Mould.NoFlow}
	f.reach = f.fill
	if f.start == 0 {
		f.start = mould.NoFlow(s.Material)
	}
	for i := range points {
		x, err := assess.NewSupply(f.setup(i, s.Mould.Contact, f.start), points[i].Flow)
		if err != nil {
			return nil, fmt.Errorf("row %d: %w", i+1, err)
		}
		f.supply = append(f.supply, x)
	}
	return f, nil
}

// setup is the set-up of a row: the last cavity is the strip, long enough.
func (f *spiralFit) setup(i int, contact, noFlow float64) *setup.Setup {
	p := &f.points[i]
	n := f.s.Clone()
	n.Block = p.Block
	m := n.Mould
	m.Surface, m.Flow, m.Contact, m.NoFlow = p.Mould, p.Flow, contact, noFlow
	var feed []mould.Element
	for _, e := range m.Elements {
		if !e.Cavity {
			feed = append(feed, e)
		}
	}
	copies := 1
	if len(feed) > 0 {
		copies = feed[len(feed)-1].Copies
	}
	m.Elements = append(feed, mould.Element{Name: "spiral", Shape: mould.StripGap, Width: p.Width, Height: p.Thickness,
		Length: 4 * p.Length, Copies: copies, Cavity: true})
	return n
}

// unknowns of the search: the resistance of the contact (m2 K/W), and kelvin of the no-flow temperature over its start.
type unknowns [2]float64

// bounded brings them within their bounds.
func (x unknowns) bounded() unknowns {
	return unknowns{math.Min(1.0/spiralContactLow, math.Max(0, x[0])),
		math.Min(spiralNoFlow, math.Max(-spiralNoFlow, x[1]))}
}

// contactOf is the contact of a resistance: perfect where there is next to none.
func contactOf(r float64) float64 {
	if r <= 1e-6 {
		return math.Inf(1)
	}
	return 1 / r
}

// values turns the unknowns into contact and no-flow temperature within their bounds.
func (f *spiralFit) values(x unknowns) (contact, noFlow float64) {
	x = x.bounded()
	return contactOf(x[0]), f.start + x[1]
}

// fill fills the strip of every row, and returns how far melt runs in it.
func (f *spiralFit) fill(contact, noFlow float64) ([]float64, error) {
	out := make([]float64, len(f.points))
	f.solves += len(out)
	err := num.Parallel(len(out), func() func(int) error {
		return func(i int) error {
			s := f.setup(i, contact, noFlow)
			set := s.Mould.Settings()
			set.Melt, set.Supply, set.Stations = f.supply[i].Melt, f.supply[i].Pressure, mould.DefaultStations*3/4
			r, err := mould.Fill(f.ctx, &s.Case, &s.Mould.Mould, set)
			if err != nil {
				return fmt.Errorf("row %d: %w", i+1, err)
			}
			out[i] = r.Front
			for _, e := range s.Mould.Elements[:len(s.Mould.Elements)-1] {
				out[i] -= e.FlowLength()
			}
			out[i] = math.Max(out[i], 1e-5)
			return nil
		}
	})
	return out, err
}

func (f *spiralFit) u(i int) float64 {
	if u := f.points[i].U; u > 0 {
		return u / f.points[i].Length
	}
	return SpiralU
}

func (f *spiralFit) rms(reach []float64) float64 {
	var sum float64
	for i, l := range reach {
		sum += math.Pow(math.Log(l/f.points[i].Length), 2)
	}
	return math.Sqrt(sum / float64(len(reach)))
}

// The steps over which the unknowns matter.
var spiralStep = unknowns{1e-4, 5}

// cost is the sum of the weighted squares at v, for a search that starts at x0. A weak pull towards the start, as wide
// as the bounds, keeps what the lengths do not tell where it was; a resistance below 0 is held back.
func (f *spiralFit) cost(v, x0 unknowns) (float64, error) {
	contact, noFlow := f.values(v)
	reach, err := f.reach(contact, noFlow)
	if err != nil {
		return 0, err
	}
	sum := math.Pow((v[0]-x0[0])*spiralContactLow, 2) + math.Pow(v[1]/spiralNoFlow, 2)
	if v[0] < 0 {
		sum += math.Pow(v[0]/spiralStep[0], 2)
	}
	return sum + f.squares(reach), nil
}

// squares is the sum of the squares of what the lengths miss by, over their uncertainties.
func (f *spiralFit) squares(reach []float64) (sum float64) {
	for i, l := range reach {
		sum += math.Pow(math.Log(l/f.points[i].Length)/f.u(i), 2)
	}
	return sum
}

// search minimises the cost from x0 on, and returns the best.
func (f *spiralFit) search(x0 unknowns) (x unknowns, settled bool, err error) {
	at := func(z []float64) unknowns { return unknowns{x0[0] + z[0]*spiralStep[0], x0[1] + z[1]*spiralStep[1]} }
	cost := func(z []float64) float64 {
		c, err := f.cost(at(z), x0)
		if err != nil {
			f.failed = err
			return math.Inf(1)
		}
		return c
	}
	r, err := optimize.Minimize(optimize.Problem{Func: cost, Status: func() (optimize.Status, error) {
		if f.failed != nil {
			return optimize.Failure, f.failed
		}
		return optimize.NotTerminated, nil
	}}, []float64{0, 0},
		&optimize.Settings{FuncEvaluations: 70, Converger: &optimize.FunctionConverge{Absolute: 0.01, Relative: 1e-3,
			Iterations: 8}},
		&optimize.NelderMead{SimplexSize: 1})
	if f.failed != nil {
		return x, false, f.failed
	}
	if r == nil {
		return x, false, err
	}
	return at(r.X).bounded(), r.Status != optimize.FunctionEvaluationLimit, nil
}

// jacobian is by how much the logarithm of each length changes with a step of each unknown, over its uncertainty: from
// half a step below to half a step above, as far as the bounds let it.
func (f *spiralFit) jacobian(x unknowns) (*mat.Dense, error) {
	j := mat.NewDense(len(f.points), len(x), nil)
	for k := range x {
		var side [2][]float64
		var at [2]unknowns
		for i, half := range []float64{-0.5, 0.5} {
			at[i] = x
			at[i][k] += half * spiralStep[k]
			at[i] = at[i].bounded()
			var err error
			if side[i], err = f.reach(f.values(at[i])); err != nil {
				return nil, err
			}
		}
		steps := (at[1][k] - at[0][k]) / spiralStep[k]
		for i := range f.points {
			j.Set(i, k, math.Log(side[1][i]/side[0][i])/steps/f.u(i))
		}
	}
	return j, nil
}

// intervals are those of the linearised fit: covariance (J' J + the weak pull)^-1, scaled up where the scatter is
// larger than the uncertainties say.
func (f *spiralFit) intervals(out *SpiralFit, x unknowns, j *mat.Dense) error {
	dof := len(f.points) - 2
	const t = 1.96 // the uncertainties of the lengths are taken as known
	scale := 1.0
	if dof > 0 {
		scale = math.Max(1, math.Sqrt(f.squares(out.Predicted)/float64(dof)))
	}
	var a, inv mat.Dense
	a.Mul(j.T(), j)
	for k, pull := range []float64{spiralStep[0] * spiralContactLow, spiralStep[1] / spiralNoFlow} {
		a.Set(k, k, a.At(k, k)+pull*pull)
	}
	if err := inv.Inverse(&a); err != nil {
		return fmt.Errorf("the spread of contact and no-flow temperature has no answer: %w", err)
	}
	half := func(k int) float64 { return t * scale * math.Sqrt(inv.At(k, k)) * spiralStep[k] }
	c := &out.Contact
	c.Low, c.High = contactOf(math.Min(x[0]+half(0), 1.0/spiralContactLow)), contactOf(x[0]-half(0))
	m := f.s.Mould
	was := 1/m.ContactRange[0] - 1/m.ContactRange[1]
	c.Known = 2*half(0) < 0.7*was
	if !c.Known {
		c.Why = "these lengths do not tell it: fill two thicknesses, or slow and fast; a thin strip and a slow flow " +
			"tell the contact"
	}
	z := &out.NoFlow
	z.Low, z.High = math.Max(f.start-spiralNoFlow, z.Value-half(1)), math.Min(f.start+spiralNoFlow, z.Value+half(1))
	z.Known = half(1) < m.NoFlowRange
	if !z.Known {
		z.Why = "these lengths do not tell it: fill a thick strip slowly, where the contact matters least"
	}
	return nil
}
