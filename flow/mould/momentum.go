package mould

import "math"

const (
	mostChange = 0.1  // of the logarithm of a stress, expected over a step
	lastLook   = 3e-4 // of flow, what Newton's method misses on the look before its last step
)

// momentum finds the wall stress of a station that carries q (m3/s, equivalent section) and its drop over the filled
// stretch. The stress rises with the distance from the middle, tau = tau_w xi, and the rate with it; flow follows by
// parts:
//
//	Q = 2 B H^2 int xi g dxi in a gap of breadth B and half thickness H, Q = pi R^3 int xi^2 g dxi in a tube
//
// solved for ln tau_w by Newton's method from the stress of the last step.
func (f *filler) momentum(s *station, q float64) {
	n := f.n
	w := f.row(s).w
	scale := s.room / s.dx * s.half // 2 B H^2, pi R^3
	phi, rate := s.phi[:n], s.rate[:n]
	per := scale / q
	l := s.logS
	tau := math.Exp(l)
	lo, hi := math.Inf(-1), math.Inf(1)
	var sum, grow float64
	for range 60 {
		sum, grow = 0, 0
		for i := range n {
			t := tau * f.xi[i]
			W, slope := f.tab.WSlope(t * t)
			g := phi[i] * t * W
			rate[i] = g
			sum += w[i] * g
			grow += w[i] * phi[i] * t * 2 * slope
		}
		e := math.Log(sum * per)
		s.slope = sum / (sum + grow)
		if math.Abs(e) < lastLook { // the last step of Newton's method without another look: good to its square
			d := e * s.slope
			l -= d
			tau *= 1 - d*(1-0.5*d) // exp(-d)
			for i := range rate {
				rate[i] *= 1 - e
			}
			break
		}
		if e > 0 {
			hi = l
		} else {
			lo = l
		}
		next := l - e*s.slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if hi-lo < 1e-12 {
			break
		}
		l = next
		tau = math.Exp(l)
	}
	s.logS, s.tau = l, tau
	grad := tau / s.half
	if !s.planar {
		grad *= 2
	}
	if s.duct != nil {
		grad *= f.ratio(s)
	}
	s.drop = grad * s.dx * s.front
}

// ratio is the drop of a duct over that of the tube of its hydraulic diameter at the same mean speed: [(B + A/n)/(3/4 +
// 1/4n)]^n (Kozicki et al. 1966, see duct.Duct), n the local power index at the wall.
func (f *filler) ratio(s *station) float64 {
	w, slope := f.tab.WSlope(s.tau * s.tau)
	n := 1 / (1 + 2*slope/w) // d ln tau / d ln g, for g = phi tau W
	return math.Pow((s.duct.B+s.duct.A/n)/(0.75+0.25/n), n)
}

// pressure returns the pressure (Pa) at the nozzle exit for a flow, with the temperatures as they are, and by what
// power of the flow it grows.
func (f *filler) pressure(q float64) (p, power float64) {
	for j := len(f.st) - 1; j >= 0; j-- {
		s := f.st[j]
		f.momentum(s, q*s.share*s.speed)
		p += s.drop
		power += s.drop * s.slope
		s.p = p
	}
	if p > 0 {
		power /= p
	}
	return p, power
}

// refresh takes fluidities at the temperatures and pressures of the stations, and expects the stress of each to go on
// as it went in the step before.
func (f *filler) refresh() {
	sensitive := f.law.PressureSensitive()
	for _, s := range f.st {
		change := math.Max(-mostChange, math.Min(mostChange, s.logS-s.was))
		s.was = s.logS
		s.logS += change
		for i := range f.n {
			a, d := f.prop.of(s.T[i])
			s.phi[i] = a.phi + d*a.dphi
			if sensitive && s.p > 0 {
				solid := 1 / f.law.Cap
				s.phi[i] = (s.phi[i]-solid)*f.law.PressureFactor(s.T[i], s.p) + solid
			}
		}
	}
}

// flows fills the flow of each cell: the speed falls from face to face by the rate times the width of the cell. The sum
// is set to q (m3/s, equivalent section).
func (f *filler) flows(s *station, q float64) {
	u, total := 0.0, 0.0
	area := s.room / s.dx
	for i := f.n - 1; i >= 0; i-- {
		a, b := f.face[i], f.face[i+1]
		w := b - a
		inner := u + s.rate[i]*w*s.half
		if s.planar {
			s.q[i] = area * w * (u + inner) / 2
		} else {
			m := (u - inner) / w // int u xi dxi with u = inner at a and u at b
			s.q[i] = 2 * area * ((inner-m*a)*(b*b-a*a)/2 + m*(b*b*b-a*a*a)/3)
		}
		u = inner
		total += s.q[i]
	}
	q /= total
	for i := range s.q {
		s.q[i] *= q
	}
}

// limit finds the flow at which what the mould wants is what the supply gives, Newton's method in logarithms kept in a
// bracket from a ten-thousandth of the set flow to the set flow. ahead sets the front for a flow.
func (f *filler) limit(q float64, ahead func(q float64)) (flow, p float64) {
	lo, top := math.Log(f.s.Flow*1e-4), math.Log(f.s.Flow)
	hi := top
	l := math.Min(hi, math.Max(lo, math.Log(q)))
	for range 60 {
		q := math.Exp(l)
		ahead(q)
		var power float64
		p, power = f.pressure(q)
		e := math.Log(p) - math.Log(math.Max(1, f.s.Supply(q)))
		if math.Abs(e) < 1e-4 || hi-lo < 1e-9 {
			break
		}
		if e > 0 {
			hi = l
		} else {
			lo = l
		}
		next := l - e/math.Max(0.05, power)
		switch {
		case next >= hi && hi == top && l < top:
			next = top // less than what is there at the set flow, perhaps: look
		case !(next > lo && next < hi):
			next = (lo + hi) / 2
		}
		if l == top && e < 0 { // the set flow is to be had
			break
		}
		l = next
	}
	return math.Exp(l), p
}
