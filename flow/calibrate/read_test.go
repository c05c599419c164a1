package calibrate

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/loadcell"
)

func TestReadPoints(t *testing.T) {
	p, err := ReadPoints("x", strings.NewReader("# invented\nblock_degC, flow_mm3_s, force_kgf, "+
		"u_N\n210,5,2,0.5\n220,10,3,\n"))
	if err != nil || len(p) != 2 || math.Abs(p[0].Force-19.6133) > 1e-9 || p[0].U != 0.5 || p[1].U != 0 ||
		math.Abs(p[1].Block-493.15) > 1e-9 {
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

func TestTraceFromLog(t *testing.T) {
	l,
		err := loadcell.Parse("x",
		[]byte("time_s,block_degC,flow_mm3_s,force_N\n0,210,0,1\n1,210,0,1\n2,210,5,9\n3,209,5,11\n4,208,5,12\n"),
		loadcell.Format{})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := FromLog(l, 1)
	if err != nil || len(tr.Time) != 3 || tr.Time[0] != 0 || tr.Time[2] != 2 || tr.Force[0] != 8 ||
		math.Abs(tr.Flow[1]-5e-9) > 1e-15 || math.Abs(tr.Block[2]-481.15) > 1e-4 {
		t.Errorf("%+v, %v", tr, err)
	}
	for _, src := range []string{"time_s,force_N\n0,1\n1,2\n2,3\n",
		"time_s,block_degC,flow_mm3_s,force_N\n0,210,0,1\n1,210,0,1\n2,210,0,9\n"} {
		l, err := loadcell.Parse("x.csv", []byte(src), loadcell.Format{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := FromLog(l, 0); err == nil || !strings.Contains(err.Error(), "x.csv") {
			t.Errorf("%q: got %v", src, err)
		}
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
