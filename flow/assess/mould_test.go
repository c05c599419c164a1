package assess_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"meltload/flow/assess"
	"meltload/flow/vary"
)

// A row of what helps is the filling of a set-up with the same change, and one that is not possible says so and ends
// nothing.
func TestMouldRowsAreFillingsWithTheSameChange(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := starter()
	f, err := assess.FillMould(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := assess.MouldGains(t.Context(), s, f.Supply)
	if err != nil || len(rows) != len(assess.MouldChanges) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, row := range rows {
		n, ok := assess.MouldChanges[i].Apply(s)
		if !ok || row.Filling == nil {
			t.Errorf("%s: %v, %q", row.What, ok, row.Why)
			continue
		}
		want, err := assess.FillMould(t.Context(), n)
		if err != nil || want.Front != row.Filling.Front || want.Peak != row.Filling.Peak {
			t.Errorf("%s: %g m at up to %g Pa in the table, %g m at %g Pa by itself, %v", row.What,
				row.Filling.Front, row.Filling.Peak, want.Front, want.Peak, err)
		}
	}
	// A mould nearly as hot as the block takes no hotter one.
	hot := s.Clone()
	hot.Mould.Flow, hot.Mould.Surface = 1e-9, hot.Block-12
	if f, err = assess.FillMould(t.Context(), hot); err != nil {
		t.Fatal(err)
	}
	rows, err = assess.MouldGains(t.Context(), hot, f.Supply)
	if err != nil || rows[0].Filling != nil || rows[0].Why == "" || rows[1].Filling == nil {
		t.Errorf("%+v, %v", rows[:2], err)
	}
	if doubts, err := assess.MouldDoubts(t.Context(), hot, f.Supply); err != nil || len(doubts) < 8 {
		t.Errorf("%d rows, %v", len(doubts), err)
	}
}

// Errors of the main question name keys and units of the case file; a cancelled context ends it.
func TestMouldErrorsSpeakOfTheCaseFile(t *testing.T) {
	s := starter()
	q, _ := vary.Find(s, string(vary.Mould))
	hot, err := q.With(s, s.Block-1)
	if err != nil {
		t.Fatal(err)
	}
	_, err = assess.FillMould(t.Context(), hot)
	if !errors.Is(err, assess.ErrMould) || !strings.Contains(err.Error(), "mould.mould_degC") {
		t.Errorf("%v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := assess.FillMould(ctx, s); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Contact and stiffness of set melt move the answer the way that they must: a poor contact lets melt run further.
func TestPoorContactRunsFurther(t *testing.T) {
	s := starter()
	for i := range s.Mould.Elements {
		if s.Mould.Elements[i].Cavity {
			s.Mould.Elements[i].Length *= 10
		}
	}
	q, _ := vary.Find(s, string(vary.MouldContact))
	last := 1.0
	for _, h := range []float64{500, 2000, 20000} {
		n, err := q.With(s, h)
		if err != nil {
			t.Fatal(err)
		}
		f, err := assess.FillMould(t.Context(), n)
		if err != nil {
			t.Fatal(err)
		}
		if f.Filled || f.Front >= last {
			t.Errorf("contact %g: %g m, %g m with a poorer one", h, f.Front, last)
		}
		last = f.Front
	}
}
