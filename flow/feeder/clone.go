package feeder

// Clone returns a copy whose points and model can be changed without a change to f, nil of nil. The curve through the
// points is shared:
// call New after a change of points.
func (f *Feeder) Clone() *Feeder {
	if f == nil {
		return nil
	}
	n := *f
	n.Points = append([]Point(nil), f.Points...)
	n.Unused = append([]Point(nil), f.Unused...)
	if f.Stock != nil {
		s := *f.Stock
		n.Stock = &s
	}
	if f.Model != nil {
		m := *f.Model
		if m.Motor != nil {
			mot := *m.Motor
			mot.Curve = append([][2]float64(nil), mot.Curve...)
			m.Motor = &mot
		}
		if m.Grip != nil {
			g := *m.Grip
			m.Grip = &g
		}
		if m.Gap != nil {
			g := *m.Gap
			m.Gap = &g
		}
		n.Model = &m
	}
	return &n
}
