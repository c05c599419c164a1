package calibrate

import (
	"math"
	"slices"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/mould"
	"meltload/materials/unit"
)

// madeSpirals are lengths of the model itself with a contact and a no-flow temperature of their own, and a little
// scatter.
func madeSpirals(t *testing.T, contact, shift float64) (*casefile.Case, []Spiral) {
	t.Helper()
	c := casefile.Invented()
	c.Mould.Elements = []mould.Element{{Name: "sprue", Shape: mould.Sprue, D1: 4e-3, D2: 5e-3, Length: 3e-3, Copies: 1}}
	p := []Spiral{{Flow: 3e-9, Thickness: 2.5e-3}, {Flow: 12e-9, Thickness: 1e-3}, {Flow: 12e-9, Thickness: 2e-3}}
	for i := range p {
		p[i].Block, p[i].Mould, p[i].Width, p[i].Length = unit.Kelvin(235), unit.Kelvin(40), 8e-3, 15e-3
	}
	f, err := newSpiralFit(t.Context(), &c.Setup, p)
	if err != nil {
		t.Fatal(err)
	}
	made, err := f.fill(contact, f.start+shift)
	if err != nil {
		t.Fatal(err)
	}
	for i := range p {
		p[i].Length = made[i] * (1 + 0.01*[]float64{1, -1, 1}[i])
		p[i].U = 0.02 * made[i]
	}
	return c, p
}

// Lengths made with a known contact and no-flow temperature give both back within their intervals.
func TestSpiralsTellContactAndNoFlow(t *testing.T) {
	const contact, shift = 1500.0, -8.0
	c, p := madeSpirals(t, contact, shift)
	f, err := FitSpirals(t.Context(), &c.Setup, p)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("contact %.0f (%.0f to %.0f), no-flow %+.1f K (%.1f either way), rms %.1f %% from %.1f %%, %d fillings, "+
		"settled %v", f.Contact.Value, f.Contact.Low, f.Contact.High,
		f.NoFlow.Value-f.NoFlow.Start, f.NoFlow.High-f.NoFlow.Value, 100*f.RMS, 100*f.Was, f.Solves, f.Settled)
	if !(f.Contact.Low <= contact && contact <= f.Contact.High) || math.Abs(f.Contact.Value/contact-1) > 0.4 {
		t.Errorf("contact %.0f, %.0f to %.0f; made with %.0f", f.Contact.Value, f.Contact.Low, f.Contact.High, contact)
	}
	if want := f.NoFlow.Start + shift; !(f.NoFlow.Low <= want && want <= f.NoFlow.High) ||
		f.NoFlow.High-f.NoFlow.Low > 20 {
		t.Errorf("no-flow %.1f K, %.1f to %.1f; made with %.1f", f.NoFlow.Value, f.NoFlow.Low, f.NoFlow.High, want)
	}
	if !f.Contact.Known || !f.NoFlow.Known || f.RMS > 0.03 || f.RMS > f.Was {
		t.Errorf("%+v", f)
	}
	// Before and after are lengths of the model at the contact and no-flow temperature named.
	at, err := newSpiralFit(t.Context(), &c.Setup, p)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		contact, noFlow float64
		reach           []float64
		rms             float64
	}{{c.Mould.Contact, mould.NoFlow(c.Material), f.Before, f.Was},
		{f.Contact.Value, f.NoFlow.Value, f.Predicted, f.RMS}} {
		want, err := at.fill(x.contact, x.noFlow)
		if err != nil || !slices.Equal(x.reach, want) || x.rms != at.rms(want) {
			t.Errorf("%v of rms %g, want %v of rms %g, %v", x.reach, x.rms, want, at.rms(want), err)
		}
	}
	if f.Contact.Start != c.Mould.Contact || f.NoFlow.Start != mould.NoFlow(c.Material) || f.Solves%3 != 0 ||
		f.Solves < 3*10 || at.solves != 6 {
		t.Errorf("from %g and %g, %d and %d fillings", f.Contact.Start, f.NoFlow.Start, f.Solves, at.solves)
	}
}

func TestReadSpirals(t *testing.T) {
	const head = "block_degC,mould_degC,flow_mm3_s,thickness_mm,width_mm,length_mm"
	p, err := ReadSpirals("s.csv", strings.NewReader("# made up\n"+head+",u_mm\n215,30,10,2,8,12.5,0.5\n"))
	if err != nil || len(p) != 1 || p[0].Length != 12.5e-3 || p[0].Width != 8e-3 || p[0].Mould != unit.Kelvin(30) {
		t.Errorf("%+v, %v", p, err)
	}
	_, err = ReadSpirals("s.csv", strings.NewReader(head+"\n215,30,-1,2,8,0\n"))
	if err == nil || !strings.Contains(err.Error(), "flow_mm3_s") || !strings.Contains(err.Error(), "length_mm") {
		t.Errorf("bad cells: %v", err)
	}
}

func FuzzReadSpirals(f *testing.F) {
	f.Add("block_degC,mould_degC,flow_mm3_s,thickness_mm,width_mm,length_mm\n215,30,10,2,8,12\n")
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ReadSpirals("s.csv", strings.NewReader(s))
		for _, x := range p {
			if err == nil && !(x.Length > 0 && x.Flow > 0 && !math.IsInf(x.Length, 0)) {
				t.Errorf("%+v", x)
			}
		}
	})
}
