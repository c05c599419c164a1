package study_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"meltload/flow"
	"meltload/flow/benchplan"
	"meltload/flow/calibrate"
	"meltload/flow/feeder"
	"meltload/flow/loadcell"
	"meltload/flow/mould"
	"meltload/flow/setup"
	"meltload/flow/study"
	"meltload/materials"
	"meltload/materials/unit"
)

// bench is the set-up of the examples: a short hot end, PLA, and a feeder measured at two speeds (invented).
func bench() *setup.Setup {
	pla, err := materials.Get("pla")
	if err != nil {
		panic(err)
	}
	f, err := feeder.New(feeder.Feeder{Name: "mine", Points: []feeder.Point{
		{Speed: 2e-3, Force: 74, SD: 2, Repeats: 4, Cause: feeder.Grind},
		{Speed: 12e-3, Force: 60, SD: 2, Repeats: 4, Cause: feeder.Skip}}})
	if err != nil {
		panic(err)
	}
	c := flow.Case{Material: pla, Filament: flow.Filament{Diameter: 1.75e-3, Inlet: unit.Kelvin(25)}}
	c.HotEnd = flow.HotEnd{Name: "short", Sections: []flow.Section{
		{Name: "barrel", Shape: flow.Tube, D1: 2e-3, Length: 20e-3},
		{Name: "cone", Shape: flow.Cone, D1: 2e-3, D2: 0.4e-3, Half: math.Pi / 6},
		{Name: "bore", Shape: flow.Tube, D1: 0.4e-3, Length: 0.6e-3}}}
	c.HotEnd.Block.Capacity, c.HotEnd.Block.Loss, c.HotEnd.Block.Power = 15, 0.05, 50 // J/K, W/K, W
	c.HotEnd.Block.Ambient = unit.Kelvin(25)
	s, err := setup.New(setup.Setup{Case: c, Title: "short hot end", Block: unit.Kelvin(215), Feeder: f,
		Target: 8 * unit.MM3})
	if err != nil {
		panic(err) // everything that is wrong with the set-up, each with its field
	}
	return s
}

// Two feeders on one hot end: which holds more at a speed, and which gives the higher usable flow.
func ExampleRank() {
	strong, weak := bench(), bench()
	f, err := feeder.New(feeder.Feeder{Name: "weak", Stock: weak.Feeder.Stock,
		Points: []feeder.Point{{Speed: 2e-3, Force: 30, SD: 1, Repeats: 4, Cause: feeder.Grind}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	weak.Feeder = f
	r, err := study.Rank(context.Background(), study.RankJob{
		Duty: strong,
		Feeders: []study.Rival{{Name: "strong", Feeder: strong.Feeder, Setup: strong}, {Name: "weak", Feeder: f,
			Setup: weak}},
		HotEnds: []study.Place{{Name: "short", Setup: strong}},
		Speeds:  []float64{2e-3}, Samples: 32, Seed: 1,
	}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, x := range r.Forces[0].Rows {
		fmt.Printf("%d. %s: %.0f N\n", x.Rank, x.Feeder, x.Force)
	}
	fmt.Println("highest usable flow:", r.Entries[0].Pair)
	// Output:
	// 1. strong: 74 N
	// 2. weak: 30 N
	// highest usable flow: strong on short
}

// The temperatures at which the load spans 20 to 40 N, and whether a 10 kg cell suffices.
func ExampleMakePlan() {
	p, err := study.MakePlan(context.Background(), bench(), benchplan.Wish{Low: 20, High: 40, Levels: 3,
		Flows: []float64{8 * unit.MM3}, CellMax: 10 * unit.KGF})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d runs, from %.0f to %.0f degC\n", len(p.Runs), unit.Celsius(p.Runs[0].Block),
		unit.Celsius(p.Runs[2].Block))
	for _, c := range p.Checks {
		if c.Name == "load cell range" {
			fmt.Println(c.Name, "suffices:", c.OK)
		}
	}
	// Output:
	// 12 runs, from 205 to 180 degC
	// load cell range suffices: true
}

// A push at 8 mm3/s with the heater off until the feeder fails.
func ExampleMakeRamps() {
	p, err := study.MakeRamps(context.Background(), bench(), benchplan.RampWish{Flows: []float64{8 * unit.MM3}})
	if err != nil {
		fmt.Println(err)
		return
	}
	x := p.Ramps[0]
	fmt.Printf("fails at %.0f N by %s\n", x.Force, x.Cause)
	fmt.Println("range counts both ends:", x.ForceLow < x.Force && x.Force < x.ForceHigh && *x.TimeEarly < *x.Time)
	// Output:
	// fails at 72 N by grind
	// range counts both ends: true
}

// A feed of 30 s from the soaked start.
func ExampleTrace() {
	r, err := study.Trace(context.Background(), bench(), study.TraceOptions{Flow: 5 * unit.MM3, Feed: 30,
		Column: 50e-3})
	if err != nil {
		fmt.Println(err)
		return
	}
	last := r.Points[len(r.Points)-1]
	fmt.Printf("whether the feeder holds %.0f s: %s\n", last.Time, r.Judged)
	// Output: whether the feeder holds 30 s: held
}

// pushes is an invented log: 5 s at rest, a push that rises to 50 N and breaks off, ten times a second.
func pushes() string {
	var b strings.Builder
	b.WriteString("time_s,force_N\n")
	noise := rand.New(rand.NewPCG(1, 2))
	for i := range 300 {
		t, f := float64(i)/10, 0.0
		if t > 5 && t < 20 {
			f = 50 * (1 - math.Exp((5-t)/2))
		}
		fmt.Fprintf(&b, "%.1f,%.2f\n", t, f+0.1*noise.NormFloat64())
	}
	return b.String()
}

// One log, read and analysed: its zero, its pushes, and how each ended.
func ExampleReadLogs() {
	r, err := study.ReadLogs(study.LogJob{Names: []string{"mine.csv"}, Open: []func() (*loadcell.Log, study.File,
		error){
		func() (*loadcell.Log, study.File, error) {
			l, err := loadcell.Read("mine.csv", strings.NewReader(pushes()), loadcell.Format{})
			return l, study.File{Name: "mine.csv"}, err
		}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	t := r.Tests[0]
	fmt.Printf("%d push from %.0f to %.0f s, highest force %.0f N\n", len(r.Tests), t.Start, t.End, t.Peak)
	// Output: 1 push from 5 to 20 s, highest force 50 N
}

// The line of a load cell by dead weights.
func ExampleCheckCell() {
	r, err := study.CheckCell("my cell", []loadcell.Weight{{Mass: 0, Up: 1184}, {Mass: 2, Up: 10991},
		{Mass: 4, Up: 20797}, {Mass: 6, Up: 30604}}, unit.Gravity, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.4f mN a count, zero at %.0f counts\n", r.PerCount*1000, r.Zero)
	// Output: 2.0000 mN a count, zero at 1184 counts
}

// Measured pushes, made here by a melt half as viscous again as the record says: the fit finds it, and the answer that
// follows uses it.
func ExampleCalibrate() {
	s := bench()
	truth := s.Clone()
	truth.ViscosityFactor = 1.5
	solver, err := study.NewSolver("marching", &truth.Case)
	if err != nil {
		fmt.Println(err)
		return
	}
	var measured []calibrate.Point
	for _, x := range [][2]float64{{200, 4}, {200, 12}, {225, 4}, {225, 12}} {
		var d flow.Solution
		if err := solver.Solve(unit.Kelvin(x[0]), x[1]*unit.MM3, &d); err != nil {
			fmt.Println(err)
			return
		}
		measured = append(measured, calibrate.Point{Block: d.Block, Flow: x[1] * unit.MM3, Force: d.Push})
	}
	r, err := study.Calibrate(context.Background(), s, measured, calibrate.Settings{
		Factors: []calibrate.Factor{"viscosity"}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %.1f\n", r.Values[0].Factor, r.Values[0].Value)
	fmt.Printf("in the calibrated set-up: %.1f\n", r.Setup.ViscosityFactor)
	// Output:
	// viscosity factor: 1.5
	// in the calibrated set-up: 1.5
}

// plaques is bench with a mould: a sprue and a block of 15 x 10 x 4 mm, in printed resin.
func plaques() *setup.Setup {
	s := bench()
	s.Mould = &mould.Spec{Name: "strip", Flow: 25 * unit.MM3}
	s.Mould.Surface = unit.Kelvin(45)
	s.Mould.Wall, _ = mould.WallOf("printed-resin")
	s.Mould.Elements = []mould.Element{
		{Name: "sprue", Shape: mould.Sprue, D1: 2e-3, D2: 4e-3, Length: 6e-3, Copies: 1},
		{Name: "block", Shape: mould.StripGap, Width: 10e-3, Height: 4e-3, Length: 15e-3, Copies: 1, Cavity: true}}
	n, err := setup.New(*s) // the defaults of the mould, and what is wrong with it
	if err != nil {
		panic(err)
	}
	return n
}

// Whether a small mould fills.
func ExampleFillMould() {
	r, err := study.FillMould(context.Background(), plaques())
	if err != nil {
		fmt.Println(err)
		return
	}
	how, _, _ := strings.Cut(r.Verdict, ":") // what speaks against it follows
	fmt.Printf("%s: %.1f cm3 in %.0f s\n", how, r.Volume*1e6, r.Time)
	// Output: likely full, and comes out: 0.6 cm3 in 26 s
}

// Lengths that melt ran in a long strip tell contact and no-flow temperature of the mould.
func ExampleCalibrateMould() {
	r, err := study.CalibrateMould(context.Background(), plaques(), []calibrate.Spiral{
		{Block: unit.Kelvin(215), Mould: unit.Kelvin(30), Flow: 15e-9, Thickness: 1e-3, Width: 8e-3, Length: 14e-3},
		{Block: unit.Kelvin(215), Mould: unit.Kelvin(50), Flow: 30e-9, Thickness: 1.5e-3, Width: 8e-3, Length: 45e-3}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, v := range r.Values { // takes some 20 s
		fmt.Println(v.Factor, v.Value, v.Unit, v.Known)
	}
}
