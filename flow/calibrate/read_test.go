package calibrate

import (
	"math"
	"strings"
	"testing"
)

func TestReadPoints(t *testing.T) {
	p, err := ReadPoints("x", strings.NewReader("# invented\nblock_degC, flow_mm3_s, force_kgf, u_N\n210,5,2,0.5\n220,10,3,\n"))
	if err != nil || len(p) != 2 || math.Abs(p[0].Force-19.6133) > 1e-9 || p[0].U != 0.5 || p[1].U != 0 || math.Abs(p[1].Block-493.15) > 1e-9 {
		t.Errorf("%+v, %v", p, err)
	}
	_, err = ReadPoints("x.csv", strings.NewReader("block_C,flow_mm3_s,force_N\n210,5,10\n"))
	if err == nil || !strings.Contains(err.Error(), `"block_degC"`) {
		t.Errorf("got %v", err)
	}
	_, err = ReadPoints("x.csv", strings.NewReader("block_degC,flow_mm3_s,force_N\n210,0,10\nhot,5,10\n210,5\n"))
	if err == nil || strings.Count(err.Error(), "\n") != 2 || !strings.Contains(err.Error(), "x.csv:3") {
		t.Errorf("every bad cell is to be named: %v", err)
	}
}

func FuzzReadPoints(f *testing.F) {
	f.Add("block_degC,flow_mm3_s,force_N\n210,5,10\n")
	f.Add("a,b\n\"")
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ReadPoints("f", strings.NewReader(s))
		if err == nil && len(p) == 0 {
			t.Fatal("neither points nor an error")
		}
		for _, x := range p {
			if !(x.Force > 0) || !(x.Flow > 0) || math.IsInf(x.Force, 0) {
				t.Fatalf("%+v", x)
			}
		}
	})
}
