package mould

import "math"

// rest lets the melt stand and cool: when the thinnest feed element freezes shut, and when the hottest centre can be
// ejected. Only the gate and the thickest stretches are followed. A mould too hot for that gives 0, and a warning.
func (f *filler) rest(r *Result) {
	gate, thick := -1, 0.0
	for j, s := range f.st {
		e := &f.m.Elements[s.e]
		if !e.Cavity && (gate < 0 || e.thickness() < f.m.Elements[f.st[gate].e].thickness()) {
			gate = j
		}
		thick = math.Max(thick, s.half)
	}
	hottest := map[int]int{} // by element
	for j, s := range f.st {
		if s.half < 0.75*thick {
			continue
		}
		if k, ok := hottest[s.e]; !ok || s.half*s.half*(s.T[0]-f.m.Surface) > f.st[k].half*f.st[k].half*
			(f.st[k].T[0]-f.m.Surface) {
			hottest[s.e] = j
		}
	}
	never := false
	for j, s := range f.st {
		if k, ok := hottest[s.e]; (!ok || k != j) && j != gate {
			continue
		}
		s.front = 1
		until := f.c.Material.Ejection
		shut, out := f.cool(s, until)
		if j == gate {
			r.GateFreeze = shut
			if _, ok := hottest[s.e]; !ok {
				continue
			}
		}
		never = never || out == 0
		r.Cooling = math.Max(r.Cooling, out)
	}
	if never {
		r.Cooling = 0
	}
}

// coolLimit is the longest time (s) that cooling is followed.
const coolLimit = 3600

// cool lets a station stand until its centre is at a temperature (K), and returns the times (s) at which the centre
// passes the no-flow temperature and that one, by straight lines; 0 for what does not come within an hour.
func (f *filler) cool(s *station, until float64) (shut, out float64) {
	shut, out, _ = f.coolFor(s, until, coolLimit, true)
	return shut, out
}
