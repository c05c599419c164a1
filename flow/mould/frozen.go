package mould

// Frozen is the share (0 to 1) of the thickness at station j that no longer flows: outside the outermost cell that is
// at least as warm as noFlow (K).
func (p *Profile) Frozen(j int, noFlow float64) float64 {
	melt := 0.0
	for i, T := range p.T[j] {
		if T >= noFlow {
			melt = p.Face[i]
		}
	}
	return 1 - melt
}
