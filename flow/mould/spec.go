package mould

// Spec is a mould to fill and how: what a case file or a Go program asks for.
type Spec struct {
	Mould
	Name   string
	Flow   float64 // m3/s, set
	Safety float64 // of the clamp, at least 1
	Open   float64 // s between the taking out of a part and the next shot
	Cycle  float64 // s from shot to shot; 0 takes what filling, holding, cooling and Open add up to
	Shots  int     // in a row, for the temperature that the mould comes to
}

// Clone returns a copy that shares nothing with m; nil of nil.
func (m *Spec) Clone() *Spec {
	if m == nil {
		return nil
	}
	x := *m
	x.Elements = append([]Element(nil), m.Elements...)
	return &x
}
