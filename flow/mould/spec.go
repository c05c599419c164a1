package mould

// Spec is a mould to fill and how: what a case file or a Go program asks for.
type Spec struct {
	Mould
	Name   string
	Flow   float64 // m3/s, set
	Safety float64 // of the clamp, at least 1

	NoFlow   float64 // K, below which melt that cools stands still; 0 takes that of the material
	SolidCap float64 // Pa s, bound on the viscosity of melt that has set; 0 takes DefaultSolidCap

	// How well it is known: a range of the contact, and so many kelvin either way.
	ContactRange [2]float64 // W/(m2 K); zeros take the default
	NoFlowRange  float64    // K; 0 takes the default
	SurfaceRange float64    // K, of the mould; 0 takes the default

	Open  float64 // s from one part's opening of the mould to the next shot; 0 takes DefaultOpen
	Cycle float64 // s from shot to shot; 0 takes what filling, cooling and Open add up to
	Shots int     // in a row, for the temperature that the mould comes to; 0 takes DefaultShots
}

// Defaults of a Spec, all assumed.
const (
	DefaultSafety       = 1.5
	DefaultNoFlowRange  = 15 // K either way
	DefaultSurfaceRange = 5  // K either way
	DefaultOpen         = 20 // s
	DefaultShots        = 12
)

// Complete fills in the defaults.
func (m *Spec) Complete() {
	def := func(x *float64, d float64) {
		if *x == 0 {
			*x = d
		}
	}
	def(&m.Contact, DefaultContact)
	def(&m.Safety, DefaultSafety)
	def(&m.SolidCap, DefaultSolidCap)
	def(&m.NoFlowRange, DefaultNoFlowRange)
	def(&m.SurfaceRange, DefaultSurfaceRange)
	def(&m.Open, DefaultOpen)
	if m.ContactRange == [2]float64{} {
		m.ContactRange = [2]float64{min(m.Contact, ContactRange[0]), max(m.Contact, ContactRange[1])}
	}
	if m.Wall == (Wall{}) {
		m.Wall, _ = WallOf(DefaultWall)
	}
	if m.Shots == 0 {
		m.Shots = DefaultShots
	}
}

// Settings of the filling that the spec asks for, but for what comes from the hot end.
func (m *Spec) Settings() Settings {
	return Settings{Flow: m.Flow, NoFlow: m.NoFlow, SolidCap: m.SolidCap}
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
