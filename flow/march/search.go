package march

import (
	"math"

	"meltload/flow"
)

// The search for the temperature at which the rod gives way and for the pressure that a pressure-sensitive law is taken
// at.
const (
	softTolerance = 0.1  // K, of the softening temperature
	softEffect    = 3e-4 // of the push: what a softening temperature that is off may do, as far as known
	leastSoft     = 5e-3 // K, the least tolerance of the softening temperature for that
	pressureTol   = 5e-4 // of the inlet pressure: it moves viscosity by less than a thousandth
	marches       = 40   // the most of them
	mostPressure  = 1e11 // Pa: beyond, a pressure-sensitive law has no answer but its cap
	steepest      = 0.95 // the steepest slope of found over guessed pressure that a step goes by
	unknown       = -1.0 // that slope before there are two marches
	sure          = 3    // by how many times an estimate of it may be too low
	sameSoft      = 1e-3 // K, between bounds of the softening temperature that are one
	firstPush     = 10   // N, the push at which the search begins
)

// answer is how the pressure that a march finds goes with the pressure that it was guessed to be.
type answer struct {
	seen         bool
	guess, found float64 // Pa, of the march before
	slope        float64 // of found over guessed, unknown before there are two marches
}

// add takes up a march. The slope is kept where a step by it makes sense: it is below one wherever there is an answer,
// and above none but where a guess is far beyond all pressures.
func (a *answer) add(guess, found float64) {
	if a.seen && guess != a.guess {
		a.slope = max(-steepest, min(steepest, (found-a.found)/(guess-a.guess)))
	}
	a.seen, a.guess, a.found = true, guess, found
}

// effect is the most that a step of the guess moves what a march finds, over the step, by the slope as estimated.
func (a *answer) effect() float64 {
	if a.slope == unknown {
		return 1
	}
	return min(1, sure*math.Abs(a.slope))
}

// trail is where the searches before ended, for one that begins where they point to.
type trail struct {
	follow bool
	n      int // of the following, the last first
	block  [2]float64
	lnQ    [2]float64
	T      [2]float64 // K, softening temperature
	p      [2]float64 // Pa
	slope  float64    // of the softening temperature's miss
	effect float64    // of the softening temperature on the push
	press  float64    // of found over guessed pressure
}

// Follow makes every search begin where the last ones ended, which takes fewer marches along a curve of flows: the
// first from near, a solution of a case like this one (nil for a look ahead of its own). A solution then depends on
// those before it, by less than its tolerance: softTolerance and pressureTol. Without Follow it does not.
func (s *Solver) Follow(near *flow.Solution) {
	s.trail = trail{follow: true}
	if near != nil && near.Pressure > 0 {
		s.trail.n = 1
		s.trail.T[0], s.trail.p[0], s.trail.slope = near.Stretches.Softening, near.Pressure, -1
		s.trail.press = unknown
	}
}

// add keeps the end of a search.
func (t *trail) add(block, q float64, soft *softening, press float64, r *flow.Solution) {
	if !t.follow {
		return
	}
	t.block[1], t.lnQ[1], t.T[1], t.p[1] = t.block[0], t.lnQ[0], t.T[0], t.p[0]
	t.block[0], t.lnQ[0], t.T[0], t.p[0], t.slope = block, math.Log(q), soft.T, r.Pressure, soft.slope
	t.effect, t.press = soft.effect, press
	t.n = min(2, t.n+1)
}

// firstGuess sets the first guess of the softening temperature and returns that of the inlet pressure (Pa), with the
// slope of found over guessed pressure: from the searches before, on a line through the last two where these were at
// this block temperature and near, or by a look ahead.
func (s *Solver) firstGuess(block, q float64, soft *softening) (p, slope float64) {
	t := &s.trail
	if t.n == 0 {
		return s.lookAhead(block, q, soft)
	}
	T := t.T[0]
	p = t.p[0]
	if d := t.lnQ[0] - t.lnQ[1]; t.n == 2 && t.block == [2]float64{block, block} && d != 0 {
		if x := (math.Log(q) - t.lnQ[0]) / d; math.Abs(x) < 2 {
			T += x * (T - t.T[1])
			p += x * (p - t.p[1])
		}
	}
	if T > soft.lo && T < soft.hi {
		soft.T, soft.slope, soft.effect = T, t.slope, t.effect
	}
	if !s.pressed || p < 0 {
		p = 0
	}
	return p, t.press
}

// lookAhead makes the first guess of softening temperature, inlet pressure (Pa) and the slope of found over guessed
// pressure from a few marches at low resolution. It does not depend on what was solved before, so that a solution is
// the same in whatever order it is asked for.
func (s *Solver) lookAhead(block, q float64, soft *softening) (p, slope float64) {
	f, c := s.coarse, s.c
	if f == nil {
		return 0, unknown
	}
	r := &f.glance
	f.begin(block, q, 0, r)
	for i := range f.sec {
		f.sec[i].wide = s.sec[i].wide
	}
	look := *soft
	a := answer{slope: unknown}
	for range looks {
		if f.pass(block, q, p, look.T, r) != nil {
			return p, a.slope
		}
		r.Force *= lookShare
		r.Pressure *= lookShare
		settled := math.Abs(r.Pressure-p) < lookTol*r.Pressure || !c.Material.Viscosity.PressureSensitive()
		a.add(p, r.Pressure)
		p = r.Pressure
		if c.Stock.Stick || look.found(c, r) {
			if settled {
				break
			}
			continue
		}
		if look.next(c, r); settled && math.Abs(look.miss) < nearMiss {
			break
		}
	}
	soft.T, soft.slope, soft.effect = look.T, look.slope, look.effect
	return p, a.slope
}

// The look ahead: marches at low resolution, at most, and the pressure that they settle to.
const (
	looks    = 6
	lookTol  = 0.02
	nearMiss = 5 // K, from which one step lands within the tolerance as a rule
	// by which the load at low resolution falls short: the median of the library over flows and nozzles is 1 to 2 %
	lookShare = 1.01
)

// softening searches the bulk temperature T (K) at which the rod gives way, Strength(T) = F/A_f (3): the temperature at
// which the push of a march would soften the rod, less the one that the march took, falls with T, as a hotter, longer
// rod needs more push and more push softens sooner. So the root is one, kept between lo and hi.
type softening struct {
	floor, top   float64 // K, temperature of the stock as it enters, and at which it gives way under no push
	T, lo, hi    float64
	before, miss float64 // T of the march before, and what it missed by; 0 for none
	push         float64 // N, of the march before
	slope        float64 // of the miss over T, as far as known: -1 or steeper
	effect       float64 // 1/K, of T on the push, as a share of it and without its sign; 0 where it is not known
}

// missed returns by how much (K) the temperature taken lies below the one that belongs to the push found.
func (x *softening) missed(c *flow.Case, r *flow.Solution) float64 {
	if c.Stock.Stick {
		return 0
	}
	return c.Material.Softens(r.Force/c.Area()) - x.T
}

func (x *softening) found(c *flow.Case, r *flow.Solution) bool {
	miss := x.missed(c, r)
	near := softTolerance
	if near*x.effect > softEffect {
		near = max(leastSoft, softEffect/x.effect)
	}
	return math.Abs(miss) < near || r.Stretches.Solid && miss > 0 || x.hi-x.lo < sameSoft
}

// next takes a secant step, kept in the bracket.
func (x *softening) next(c *flow.Case, r *flow.Solution) {
	miss := x.missed(c, r)
	if miss > 0 {
		x.lo = max(x.lo, x.T)
	} else {
		x.hi = min(x.hi, x.T)
	}
	x.slope = min(-1, x.slope)
	if d := x.T - x.before; x.before > 0 && math.Abs(d) > 1e-6 {
		x.slope = min(-1, (miss-x.miss)/d)
		x.effect = math.Abs(2 * (r.Force - x.push) / (r.Force + x.push) / d)
	}
	x.before, x.miss, x.push = x.T, miss, r.Force
	if x.T -= miss / x.slope; x.T <= x.lo || x.T >= x.hi {
		if x.T <= x.lo && x.lo == x.floor {
			x.T = x.floor + sameSoft/2 // it gives way where it enters, as a rule
			return
		}
		if x.T >= x.hi && x.hi == x.top {
			x.T = x.top // under next to no push, as a rule
			return
		}
		x.T = (x.lo + x.hi) / 2
	}
}
