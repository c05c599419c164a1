package mould

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"meltload/materials/unit"
)

func TestDebugTable(t *testing.T) {
	N, C, W := 0, 0, 0
	N, _ = strconv.Atoi(os.Getenv("N"))
	C, _ = strconv.Atoi(os.Getenv("C"))
	W, _ = strconv.Atoi(os.Getenv("W"))
	worst, sum, n := 0.0, 0.0, 0
	for _, r := range table(t, "mould_open.csv") {
		c, m, s := tableFilling(t, r)
		s.Stations, s.Cells, s.WallCells = N, C, W
		t0 := time.Now()
		x := fill(t, c, m, s)
		el := time.Since(t0)
		fr, ce, fa := middle(x)
		e := x.Front*1e3/r.f("reach_mm") - 1
		p2 := at(x, r.f("t2_s"))/1e6/r.f("p2_MPa") - 1
		lim := math.NaN()
		if x.LimitedAt > 0 {
			lim = x.LimitedAt*1e3/r.f("limited_from_mm") - 1
		}
		fmt.Printf("%-8s %-15s %-7s reach %7.3f %+6.1f%% t %+6.1f%% lim %+6.1f%% p2 %+6.1f%% fr %+.3f ce %+5.1f fa %+5.1f bal %.1e n %d %v\n", r["id"], r["stop"], x.Stop, x.Front*1e3, 100*e, 100*(x.Time/r.f("time_s")-1), 100*lim, 100*p2, fr-r.f("mid_frozen_share"), unit.Celsius(ce)-r.f("mid_centre_degC"), unit.Celsius(fa)-r.f("mid_wall_face_degC"), x.Balance, len(x.Trace), el.Round(100*time.Microsecond))
		worst = math.Max(worst, math.Abs(e))
		sum += math.Abs(e)
		n++
	}
	fmt.Printf("worst %.1f mean %.1f\n", 100*worst, 100*sum/float64(n))
}
