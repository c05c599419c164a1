package feeder

// Delivered is the flow (m3/s) of filament that leaves the feeder when q (m3/s) is fed against a push of force newtons:
// q (1 - Slip force), and not less than nothing. Without a known slip it is q. Source: slip in proportion to force is
// common practice for a gear below the force at which it grinds; the slope is the user's own measurement.
func (f *Feeder) Delivered(q, force float64) float64 { return q * max(0, 1-f.Slip*force) }
