package mould

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"meltload/flow"
	"meltload/materials"
	"meltload/materials/checks"
	"meltload/materials/unit"
)

// row is a row of a table of testdata/mould by column name.
type row map[string]string

func (r row) f(key string) float64 {
	x, err := strconv.ParseFloat(r[key], 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// table reads a table of testdata/mould; its README says where it comes from.
func table(t testing.TB, name string) (rows []row) {
	t.Helper()
	file, err := os.Open(checks.Root("testdata", "mould", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range all[1:] {
		r := row{}
		for i, x := range line {
			r[all[0][i]] = x
		}
		rows = append(rows, r)
	}
	return rows
}

// tableMaterial is a polymer with the constants of testdata/mould/README.md, whatever the library says today.
func tableMaterial(t testing.TB, name string) *materials.Material {
	t.Helper()
	m, err := materials.Get(name)
	if err != nil {
		t.Fatal(err)
	}
	K := func(x [][2]float64) materials.Curve {
		for i := range x {
			x[i][0] = unit.Kelvin(x[i][0])
		}
		return materials.NewCurve(x)
	}
	v := &m.Viscosity
	*v = materials.Viscosity{Cap: 1e7, Trouton: 3}
	cross := func(n, tau, eta, tref float64) {
		v.FlowCurve = materials.FlowCurve{Kind: materials.Cross, N: n, Tau: tau}
		v.Eta0, v.Tref = eta, tref
	}
	carreau := func(n, lambda, eta, tref, e float64) {
		v.FlowCurve = materials.FlowCurve{Kind: materials.CarreauYasuda, N: n, Tau: eta / lambda, A: 1}
		v.Shift = materials.Shift{Kind: materials.Arrhenius, Eta0: eta, Tref: tref, E: e}
	}
	var cp, k materials.Curve
	var latent, lo, hi, noFlow, rho float64
	switch name {
	case "pla":
		cross(0.25, 165300, 1.605e9, 373.15)
		v.Shift.Kind, v.A1, v.A2 = materials.WLF, 20.194, 51.6
		cp = K([][2]float64{{20, 1220}, {55, 1400}, {65, 1970}, {100, 1990}, {190, 2060}, {230, 2090}})
		k = K([][2]float64{{20, .175}, {100, .191}, {200, .211}, {230, .217}})
		latent, lo, hi, noFlow, rho = 1500, 150, 165, 110, 1084
		m.Ejection = unit.Kelvin(50)
	case "abs":
		cross(0.244, 50000, 8.52e16, 373.15)
		v.Shift.Kind, v.A1, v.A2 = materials.WLF, 42.5, 51.6
		cp = K([][2]float64{{20, 1300}, {90, 1550}, {115, 1950}, {150, 2030}, {200, 2150}, {250, 2300}})
		k = K([][2]float64{{20, .19}, {100, .2}, {250, .21}})
		noFlow, rho = 135, 941.977
		m.Ejection = unit.Kelvin(88)
	case "pp":
		carreau(0.32, 0.091, 1386, 493, 42719.8)
		cp = K([][2]float64{{0, 1570}, {20, 1680}, {50, 1920}, {100, 2350}, {130, 2550}, {170, 2650}, {200, 2700},
			{240, 2800}})
		k = K([][2]float64{{0, .21}, {50, .22}, {100, .22}, {165, .2}, {170, .17}, {240, .17}})
		latent, lo, hi, rho = 103e3, 95, 120, 733.114
		m.Ejection = unit.Kelvin(95)
	case "hdpe":
		carreau(0.4, 1.38, 24198, 473, 22272)
		cp = K([][2]float64{{20, 1900}, {80, 2400}, {110, 2700}, {140, 2500}, {190, 2600}, {240, 2700}})
		k = K([][2]float64{{20, .45}, {80, .38}, {125, .3}, {140, .25}, {240, .25}})
		latent, lo, hi, rho = 190e3, 100, 118, 739.917
		m.Ejection = unit.Kelvin(100)
	case "pa6":
		cross(0.259, 288400, 2332, 523.15)
		v.Shift.Kind, v.E = materials.Arrhenius, 62000
		cp = K([][2]float64{{20, 1600}, {60, 1850}, {120, 2250}, {180, 2500}, {230, 2650}, {270, 2700}})
		k = K([][2]float64{{20, .25}, {120, .25}, {220, .24}, {270, .23}})
		latent, lo, hi, rho = 65e3, 165, 190, 967.941
		m.Ejection = unit.Kelvin(133)
	default:
		t.Fatalf("no constants for %q", name)
	}
	m.Cooling = [2]float64{}
	if latent > 10e3 {
		m.Cooling = [2]float64{unit.Kelvin(lo), unit.Kelvin(hi)}
		v.MeltLow, v.MeltHigh = m.Cooling[0], m.Cooling[1]
	} else {
		m.FirstFlow = unit.Kelvin(noFlow)
	}
	m.Heat = materials.NewHeat(cp, latent, unit.Kelvin(lo), unit.Kelvin(hi))
	m.Conductivity = k
	m.Density = materials.Density{Solid: rho, Uniform: true}
	return m
}

// tableWall is a wall of testdata/mould/README.md.
func tableWall(t testing.TB, name string) Wall {
	t.Helper()
	switch name {
	case "aluminium":
		return Wall{Name: name, K: 160, RhoC: 2750 * 900, Depth: 20e-3}
	case "steel":
		return Wall{Name: name, K: 30, RhoC: 7800 * 480, Depth: 20e-3}
	case "resin":
		return Wall{Name: name, K: 0.25, RhoC: 1.9e6, Depth: 10e-3}
	}
	t.Fatalf("no wall %q", name)
	return Wall{}
}

// tableFilling is the filling of a row.
func tableFilling(t testing.TB, r row) (*flow.Case, *Mould, Settings) {
	t.Helper()
	contact := math.Inf(1)
	if r["contact_W_m2K"] != "inf" {
		contact = r.f("contact_W_m2K")
	}
	m := &Mould{Surface: unit.Kelvin(r.f("mould_degC")), Wall: tableWall(t, r["wall"]), Contact: contact,
		Elements: []Element{{Name: "strip",
			Shape: StripGap, Width: r.f("width_mm") * 1e-3, Height: r.f("thickness_mm") * 1e-3,
			Length: r.f("asked_mm") * 1e-3, Copies: 1, Cavity: true}}}
	most := r.f("limit_MPa") * 1e6
	return &flow.Case{Material: tableMaterial(t, r["material"])}, m,
		Settings{Melt: unit.Kelvin(r.f("melt_degC")), Flow: r.f("flow_mm3_s") * unit.MM3,
			Supply: func(float64) float64 { return most }}
}

// at returns the pressure (Pa) of a trace at a time, by straight lines.
func at(r *Result, time float64) float64 {
	for i, x := range r.Trace {
		if x.Time >= time && i > 0 {
			a := r.Trace[i-1]
			return a.Pressure + (x.Pressure-a.Pressure)*(time-a.Time)/(x.Time-a.Time)
		}
	}
	return math.NaN()
}

// middle returns frozen share, centre and face (K) at half the reach.
func middle(r *Result) (frozen, centre, face float64) {
	p := &r.Profile
	value := func(j int) (frozen, centre, face float64) {
		in := 0.0
		for i, T := range p.T[j] {
			if T < r.NoFlow { // from the cell before by a straight line between the middles
				m := func(i int) float64 {
					if i == 0 {
						return p.Face[0] / 2
					}
					return (p.Face[i] + p.Face[i-1]) / 2
				}
				edge := 0.0
				if i > 0 {
					edge = m(i-1) + (m(i)-m(i-1))*(p.T[j][i-1]-r.NoFlow)/(p.T[j][i-1]-T)
				}
				frozen = 1 - edge
				break
			}
			in = p.Face[i]
		}
		_ = in
		return frozen, p.T[j][0], p.Surface[j]
	}
	for j := range p.X {
		if p.X[j] >= r.Front/2 && j > 0 {
			w := (r.Front/2 - p.X[j-1]) / (p.X[j] - p.X[j-1])
			f0, c0, s0 := value(j - 1)
			f1, c1, s1 := value(j)
			return f0 + w*(f1-f0), c0 + w*(c1-c0), s0 + w*(s1-s0)
		}
	}
	return value(0)
}

// Cooling of a slab filled at once against the table: times to the no-flow and the ejection temperature to 3 per cent,
// the face then to 3 K.
func TestCoolingMeetsTheTable(t *testing.T) {
	for _, r := range table(t, "cooling.csv") {
		contact := math.Inf(1)
		if r["contact_W_m2K"] != "inf" {
			contact = r.f("contact_W_m2K")
		}
		m := &Mould{Surface: unit.Kelvin(r.f("mould_degC")), Wall: tableWall(t, r["wall"]), Contact: contact,
			Elements: []Element{{Name: "slab",
				Shape: StripGap, Width: 20e-3, Height: r.f("thickness_mm") * 1e-3, Length: 10e-3, Copies: 1,
				Cavity: true}}}
		f, s := standing(t, &flow.Case{Material: tableMaterial(t, r["material"])}, m,
			Settings{Melt: unit.Kelvin(r.f("melt_degC")), Flow: 1e-6})
		shut, out := f.cool(s, unit.Kelvin(r.f("ejection_degC")))
		a, b := shut/r.f("centre_at_T_flow_s")-1, out/r.f("centre_at_ejection_s")-1
		face := unit.Celsius(f.surfaceOf(s)) - r.f("wall_face_then_degC")
		if math.Abs(a) > 0.03 || math.Abs(b) > 0.03 || math.Abs(face) > 3 {
			t.Errorf("%s %s %s %s: no-flow %+.1f %%, ejection %+.1f %%, face %+.1f K", r["material"], r["wall"],
				r["contact_W_m2K"], r["thickness_mm"], 100*a, 100*b, face)
		}
	}
}

// A row of shots in printed resin against the table: face and centre to 2 K, times to 3 per cent.
func TestRepeatedShotsMeetTheTable(t *testing.T) {
	done := map[string][]RepeatedShot{}
	for _, r := range table(t, "shots.csv") {
		key := r["contact_W_m2K"] + "/" + r["cycle_s"]
		if done[key] == nil {
			contact := math.Inf(1)
			if r["contact_W_m2K"] != "inf" {
				contact = r.f("contact_W_m2K")
			}
			air := unit.Kelvin(r.f("air_degC"))
			m := &Mould{Surface: air, Wall: tableWall(t, "resin"), Contact: contact, Elements: []Element{{Name: "slab",
				Shape: StripGap, Width: 20e-3, Height: r.f("thickness_mm") * 1e-3, Length: 10e-3, Copies: 1,
				Cavity: true}}}
			m.Wall.Air, m.Wall.AirT = r.f("air_W_m2K"), air
			x, err := Repeat(t.Context(), &flow.Case{Material: tableMaterial(t, r["material"])}, m,
				RepeatSettings{Melt: unit.Kelvin(r.f("melt_degC")), Shots: 12,
					Cycle: r.f("cycle_s"), Open: r.f("cycle_s") - r.f("closed_s"), Air: r.f("air_W_m2K"), AirT: air})
			if err != nil {
				t.Fatal(err)
			}
			done[key] = x
		}
		x := done[key][int(r.f("shot"))-1]
		for _, v := range []struct {
			what      string
			got, want float64
		}{{"face at the start", unit.Celsius(x.Face), r.f("wall_face_at_start_degC")},
			{"centre at opening", unit.Celsius(x.Centre), r.f("centre_at_opening_degC")},
			{"face at opening", unit.Celsius(x.Opening), r.f("wall_face_at_opening_degC")}} {
			if math.Abs(v.got-v.want) > 2 {
				t.Errorf("%s shot %s: %s %.2f degC, table %.2f", key, r["shot"], v.what, v.got, v.want)
			}
		}
		for _, v := range []struct {
			what      string
			got, want float64
		}{{"110 degC", x.Set, r.f("centre_at_110_s")}, {"50 degC", x.Eject, r.f("centre_at_50_s")}} {
			if math.IsNaN(v.want) != (v.got == 0) || math.Abs(v.got-v.want) > 0.03*v.want {
				t.Errorf("%s shot %s: centre at %s after %.4g s, table %.4g s", key, r["shot"], v.what, v.got, v.want)
			}
		}
	}
}

// Fillings of a strip against the table, by the tolerances of testdata/mould/README.md.
func TestFillingMeetsTheTable(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	var sum float64
	rows := table(t, "mould_open.csv")
	for _, r := range rows {
		c, m, s := tableFilling(t, r)
		x := fill(t, c, m, s)
		near := func(what string, got, want, tol float64) {
			t.Helper()
			if !(math.Abs(got-want) <= tol) {
				t.Errorf("%s %s: %.4g, table %.4g", r["id"], what, got, want)
			}
		}
		near("reach", x.Front*1e3, r.f("reach_mm"), 0.03*r.f("reach_mm"))
		sum += math.Abs(x.Front*1e3/r.f("reach_mm") - 1)
		near("time", x.Time, r.f("time_s"), 0.03*r.f("time_s"))
		near("pressure", at(x, r.f("t2_s"))/1e6, r.f("p2_MPa"), 0.05*r.f("p2_MPa"))
		if want := r.f("limited_from_mm"); math.IsNaN(want) {
			near("limited from", x.Limited, 0, 0)
		} else {
			near("limited from", x.LimitedAt*1e3, want, 0.03*want)
		}
		if x.Filled != (r["stop"] == "longer") || !x.Filled && x.Stop != Frozen {
			t.Errorf("%s stops: %s, table %s", r["id"], x.Stop, r["stop"])
		}
		near("balance", x.Balance, 0, 1e-9)
		near("heat to the wall", x.ToWall, r.f("heat_to_wall_share"), 0.02)
		near("heat of shear", x.Shear, r.f("shear_heat_share"), 0.002)
		if r["stop"] == "pressure-frozen" {
			continue
		}
		frozen, centre, face := middle(x)
		tol := 3.0
		if r["material"] == "pla" || r["material"] == "abs" {
			tol = 4
		}
		near("frozen share in the middle", frozen, r.f("mid_frozen_share"), 0.03)
		near("centre in the middle", unit.Celsius(centre), r.f("mid_centre_degC"), tol)
		near("face in the middle", unit.Celsius(face), r.f("mid_wall_face_degC"), 3)
	}
	t.Logf("reach off by %.1f %% on average", 100*sum/float64(len(rows)))
}
