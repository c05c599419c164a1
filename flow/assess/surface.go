package assess

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"meltload/flow/vary"
	"meltload/materials/num"
)

// The outputs of a response surface.
const (
	outPush     = iota // ln N
	outPressure        // ln Pa
	outHeater          // ln W
	outCentre          // K
	outExit            // K
	outRest            // ln(1 + least margin of the limits that are neither the feeder's nor the core's), bounded
	outputs
)

// mostRest bounds the margin that outRest shows: more room than that does not matter.
const mostRest = 9.0

// surface is the response of one set-up to what is not known about it and to the flow: each output is a polynomial in
// the unknowns z, each on its scale, 0 at its middle and about -1 and 1 at its 5 and 95 per cent points, and in u, the
// logarithm of the flow over a reference:
//
//	y = sum a_ij z_i z_j + u sum b_i z_i + u^2 sum c_i z_i + d u^3,  z_0 = 1
//
// and, where it is rich, + u sum e_ij z_i z_j + sum f_i z_i^3;
// fitted by least squares with a small penalty on every coefficient but the first (ridge regression; A.E. Hoerl and
// R.W. Kennard, Technometrics 12 (1970) 55, from memory). The points are held in folds, so that it can be fitted
// without one of them.
type surface struct {
	rich  bool // with the terms of third order
	scale []vary.Scale
	at    []int     // places in Unknowns of those that vary
	mid   []float64 // their middles and half widths, on their scales
	half  []float64
	ref   float64 // m3/s
	rows  [folds][][]float64
	y     [folds][][outputs]float64
	sums  [folds]sums
	coef  [outputs][]float64
	rest  float64 // by how much outRest misses, root mean square, by cross-validation
}

// folds is the number of parts of a cross-validation.
const folds = 4

// sums are the normal equations of the points of a fold.
type sums struct {
	a    *mat.SymDense
	b    [outputs][]float64
	done int // rows added
}

// The penalties, in squares of a coefficient over squares of what it leaves: a coefficient of a cross term is expected
// to be some three times what is left at a point.
const (
	penaltyLine  = 1e-3
	penaltyCurve = 1e-2
	penaltyCross = 0.1
)

func newSurface(us []Unknown, ref float64, rich bool) *surface {
	f := &surface{ref: ref, rich: rich}
	for i := range us {
		u := &us[i]
		if !u.Has || u.Band.Known {
			continue
		}
		s := u.Scale
		mid := s.To(u.At(0.5))
		half := math.Max(s.To(u.At(0.95))-mid, mid-s.To(u.At(0.05)))
		if !(half > 0) {
			continue
		}
		f.at, f.scale = append(f.at, i), append(f.scale, s)
		f.mid, f.half = append(f.mid, mid), append(f.half, half)
	}
	for k := range f.sums {
		f.sums[k].a = mat.NewSymDense(f.size(), nil)
		for o := range f.sums[k].b {
			f.sums[k].b[o] = make([]float64, f.size())
		}
	}
	return f
}

// quad is the number of terms without u up to the second order, size of all.
func (f *surface) quad() int { m := len(f.at); return 1 + m + m*(m+1)/2 }

func (f *surface) size() int {
	m := len(f.at)
	n := f.quad() + 2*(1+m) + 1
	if f.rich {
		n += m*(m+1)/2 + m
	}
	return n
}

// place writes the unknowns x as z.
func (f *surface) place(x, z []float64) []float64 {
	z = z[:0]
	for k, i := range f.at {
		z = append(z, (f.scale[k].To(x[i])-f.mid[k])/f.half[k])
	}
	return z
}

// terms appends the terms at z and u in the order of the coefficients.
func (f *surface) terms(out, z []float64, u float64) []float64 {
	out = append(append(out, 1), z...)
	for i, a := range z {
		for _, b := range z[i:] {
			out = append(out, a*b)
		}
	}
	for _, w := range [2]float64{u, u * u} {
		out = append(out, w)
		for _, a := range z {
			out = append(out, w*a)
		}
	}
	out = append(out, u*u*u)
	if !f.rich {
		return out
	}
	for i, a := range z {
		for _, b := range z[i:] {
			out = append(out, a*b*u)
		}
	}
	for _, a := range z {
		out = append(out, a*a*a)
	}
	return out
}

// penalties are those of the coefficients.
func (f *surface) penalties() []float64 {
	m := len(f.at)
	out := []float64{0}
	for range m {
		out = append(out, penaltyLine)
	}
	for i := range m {
		for j := i; j < m; j++ {
			if i == j {
				out = append(out, penaltyCurve)
			} else {
				out = append(out, penaltyCross)
			}
		}
	}
	for _, p := range [2]float64{1e-6, penaltyLine} {
		out = append(out, p)
		for range m {
			out = append(out, penaltyCurve)
		}
	}
	out = append(out, penaltyCurve)
	for len(out) < f.size() {
		out = append(out, penaltyCross)
	}
	return out
}

// add puts the flows solved for a draw into a fold.
func (f *surface) add(fold int, z []float64, seen []probe) {
	for i := range seen {
		if p := &seen[i]; p.solved {
			f.rows[fold] = append(f.rows[fold], f.terms(make([]float64, 0, f.size()), z, f.ln(p.q)))
			f.y[fold] = append(f.y[fold], p.y)
		}
	}
}

// ln is u at a flow (m3/s).
func (f *surface) ln(q float64) float64 { return math.Log(q / f.ref) }

// sum brings the normal equations up to date, the folds side by side.
func (f *surface) sum() {
	_ = num.Parallel(folds, func() func(int) error {
		return func(k int) error {
			s := &f.sums[k]
			rows := f.rows[k][s.done:]
			if len(rows) == 0 {
				return nil
			}
			x := mat.NewDense(len(rows), f.size(), nil)
			for i, r := range rows {
				x.SetRow(i, r)
				for o := range s.b {
					y := f.y[k][s.done+i][o]
					for j, t := range r {
						s.b[o][j] += t * y
					}
				}
			}
			s.a.SymRankK(s.a, 1, x.T())
			s.done += len(rows)
			return nil
		}
	})
}

// fit finds the coefficients from all folds but one, -1 for all of them; false where there is no answer.
func (f *surface) fit(without int) bool {
	n := f.size()
	a := mat.NewSymDense(n, nil)
	for i, p := range f.penalties() {
		a.SetSym(i, i, p)
	}
	var b [outputs][]float64
	for o := range b {
		b[o] = make([]float64, n)
	}
	for k := range f.sums {
		if k == without {
			continue
		}
		a.AddSym(a, f.sums[k].a)
		for o := range b {
			for j, v := range f.sums[k].b[o] {
				b[o][j] += v
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return false
	}
	for o := range b {
		var c mat.VecDense
		if ch.SolveVecTo(&c, mat.NewVecDense(n, b[o])) != nil {
			return false
		}
		f.coef[o] = c.RawVector().Data
	}
	return true
}

// line is one output of a set-up over u, a cubic.
type line [4]float64

func (l *line) at(u float64) float64 { return l[0] + u*(l[1]+u*(l[2]+u*l[3])) }

// lines are the outputs over u at z.
func (f *surface) lines(z []float64) (out [outputs]line) {
	q := f.quad()
	m := len(z)
	for o := range out {
		c := f.coef[o]
		l := &out[o]
		l[0], l[1], l[2], l[3] = c[0], c[q], c[q+1+m], c[q+2*(1+m)]
		for i, a := range z {
			l[0] += c[1+i] * a
			l[1] += c[q+1+i] * a
			l[2] += c[q+2+m+i] * a
		}
		k := 1 + m
		for i, a := range z {
			s := 0.0
			for _, b := range z[i:] {
				s += c[k] * b
				k++
			}
			l[0] += a * s
		}
		if !f.rich {
			continue
		}
		k = q + 2*(1+m) + 1
		for i, a := range z {
			s := 0.0
			for _, b := range z[i:] {
				s += c[k] * b
				k++
			}
			l[1] += a * s
		}
		for _, a := range z {
			l[0] += c[k] * a * a * a
			k++
		}
	}
	return out
}

// without is the surface fitted without one fold; nil where there is none.
func (f *surface) without(fold int) *surface {
	n := *f
	if !n.fit(fold) {
		return nil
	}
	return &n
}
