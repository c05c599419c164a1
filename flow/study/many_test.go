package study

import (
	"context"
	"errors"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/setup"
	"meltload/flow/vary"
	"meltload/materials/unit"
)

// hot is the starter case at a block temperature (degC).
func hot(t *testing.T, celsius float64) *setup.Setup {
	t.Helper()
	s := casefile.Invented().Clone()
	q := vary.Must(s, vary.Block)
	if err := q.Set(s, unit.Kelvin(celsius)); err != nil {
		t.Fatal(err)
	}
	return s
}

// Each row among many is what the case gives alone; one that cannot be read says why and stops nobody; a row that is
// known is taken as it is.
func TestManyCasesAreEachTheirOwn(t *testing.T) {
	o := AssessOptions{Samples: 16}
	opened := 0
	known := Brief{Case: "known", Usable: new(float64)}
	open := func(celsius float64) func() (*setup.Setup, error) {
		return func() (*setup.Setup, error) { return hot(t, celsius), nil }
	}
	jobs := []ManyJob{{Name: "cool", Open: open(200)}, {Name: "bad", Open: func() (*setup.Setup, error) {
		return nil, errors.New("no such case\nat all")
	}}, {Name: "known", Done: &known, Open: func() (*setup.Setup, error) { opened++; return nil, nil }},
		{Name: "warm", Open: open(230)}}
	told := map[string]bool{}
	r, err := AssessMany(context.Background(), jobs, o, func(i int, b Brief) error {
		told[b.Case] = jobs[i].Name == b.Case
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if opened != 0 || r.Kept != 1 || len(told) != 3 || !told["cool"] || !told["bad"] || !told["warm"] {
		t.Errorf("known case opened %d times, %d kept, told %v", opened, r.Kept, told)
	}
	if b := r.Cases[1]; b.Problem != "no such case; at all" || b.Usable != nil || r.Good {
		t.Errorf("%+v, good %t", b, r.Good)
	}
	for _, i := range []int{0, 3} {
		s, _ := jobs[i].Open()
		alone, err := Glance(s, o.Options) // what Assess looks at first, and the range that it ends with
		if err != nil {
			t.Fatal(err)
		}
		if err := alone.Spread(context.Background(), s, o.Samples, s.Seed, nil); err != nil {
			t.Fatal(err)
		}
		b := r.Cases[i]
		if *b.Usable != alone.Verdict.Flow || *b.Low != alone.Range.Usable.Low || *b.High != alone.Range.Usable.High ||
			*b.Push != alone.Point.Push || b.Judged != alone.Verdict.Judged {
			t.Errorf("%s: %+v; alone %+v", b.Case, b, alone.Verdict)
		}
	}
	if !strings.Contains(r.Sentence, "in warm") {
		t.Errorf("the hottest block gives the highest flow: %s", r.Sentence)
	}
}

// A run that is stopped keeps nothing of a case that was not finished, and an error of the one who keeps the rows ends
// it.
func TestManyCasesStop(t *testing.T) {
	jobs := []ManyJob{{Name: "a", Open: func() (*setup.Setup, error) { return hot(t, 210), nil }}}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := AssessMany(ctx, jobs, AssessOptions{Samples: 16}, func(int, Brief) error {
		t.Error("a row of a run that was stopped")
		return nil
	}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	full := errors.New("disk full")
	if _, err := AssessMany(context.Background(), jobs, AssessOptions{Samples: 16}, func(int, Brief) error {
		return full
	}); !errors.Is(err, full) {
		t.Errorf("%v", err)
	}
}
