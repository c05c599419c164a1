package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Bound says which numbers are taken where people write them: from Lo to Hi in the unit, with a decimal comma or their
// own unit if need be. Whatever is outside is refused, NaN and infinities too.
type Bound struct {
	Lo, Hi float64
	Unit   string // one that Read knows; "" for a plain number
	Whole  bool
	Zero   bool // 0 as well, where it lies outside
	Either bool // of both signs: the bounds are those of the size
}

func (b Bound) String() string {
	s := fmt.Sprintf("%s to %s", Decimal(b.Lo), Decimal(b.Hi))
	if b.Either {
		s = "-" + Decimal(b.Hi) + " to " + Decimal(b.Hi)
		if b.Lo > 0 {
			s += ", at least " + Decimal(b.Lo) + " in size"
		}
	}
	if b.Zero {
		s = "0 or " + s
	}
	return s
}

// Decimal writes a number in the shortest way, large ones without an exponent.
func Decimal(x float64) string {
	if math.Abs(x) >= 1e4 && math.Abs(x) < 1e7 {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// Read takes one number, with its unit and a decimal comma if need be.
func (b Bound) Read(s string) (float64, error) {
	x, err := Read(s, b.Unit)
	size := x
	if b.Either {
		size = math.Abs(x)
	}
	kind := "allowed are "
	if b.Whole {
		kind = "allowed are whole numbers, "
	}
	switch allowed := strings.TrimSpace(kind + b.String() + " " + b.Unit); {
	case err != nil:
		return 0, fmt.Errorf("%w; %s", err, allowed)
	case b.Zero && x == 0:
	case !(size >= b.Lo && size <= b.Hi), b.Whole && x != math.Trunc(x):
		return 0, fmt.Errorf("%s", allowed)
	}
	return x, nil
}

// MaxListed is how many numbers a list may have.
const MaxListed = 200

// List reads numbers that stand between commas, or between semicolons where the decimal sign is a comma; 200:240:10 is
// 200, 210, 220, 230, 240.
func (b Bound) List(s string) ([]float64, error) {
	sep, how := ",", "separated by commas, or by semicolons where the decimal sign is a comma"
	if strings.Contains(s, ";") {
		sep = ";"
	}
	var out []float64
	for _, part := range strings.Split(s, sep) {
		if strings.Contains(part, ":") {
			x, err := b.span(part)
			if err != nil {
				return nil, err
			}
			out = append(out, x...)
		} else {
			x, err := b.Read(part)
			if err != nil {
				return nil, fmt.Errorf("%q: %w, %s", strings.TrimSpace(part), err, how)
			}
			out = append(out, x)
		}
		if len(out) > MaxListed {
			return nil, fmt.Errorf("more than %d numbers", MaxListed)
		}
	}
	return out, nil
}

// span reads a range, from:to:step.
func (b Bound) span(s string) ([]float64, error) {
	ends := strings.Split(s, ":")
	if len(ends) != 3 {
		return nil, fmt.Errorf("%q: a range is written from:to:step", s)
	}
	step := b
	if b.Unit == "degC" {
		step.Unit = "K" // a difference: 18 F are 10 K
	}
	if bare(ends[0]) != bare(ends[2]) || bare(ends[1]) != bare(ends[2]) {
		return nil, fmt.Errorf("%q: write the unit with each of the three numbers, or with none (%s)", s, b.Unit)
	}
	var x [3]float64
	for i, e := range ends[:2] {
		var err error
		if x[i], err = b.Read(e); err != nil {
			return nil, fmt.Errorf("%q: %w", strings.TrimSpace(e), err)
		}
	}
	x[2], _ = Read(ends[2], step.Unit)
	if !(x[2] > 0) {
		return nil, fmt.Errorf("%q: the step must be a number above 0%s; a range is written from:to:step", ends[2],
			strings.TrimRight(" "+step.Unit, " "))
	}
	if x[0] > x[1] {
		return nil, fmt.Errorf("%q: a range is written from:to:step, and from must not be above to: %s:%s:%s", s,
			ends[1], ends[0], ends[2])
	}
	n := math.Floor((x[1]-x[0])/x[2] + 1e-9)
	if n > MaxListed {
		return nil, fmt.Errorf("%q: more than %d numbers", s, MaxListed)
	}
	if last := x[0] + n*x[2]; x[1]-last > 1e-6*x[2] {
		return nil, fmt.Errorf("%q: the steps end at %s, not at %s; write %s:%s:%s, or list the numbers", s,
			Decimal(round9(last)), Decimal(x[1]), Decimal(x[0]), Decimal(round9(last)), Decimal(x[2]))
	}
	var out []float64
	for i := range int(n) + 1 {
		out = append(out, x[0]+float64(i)*x[2])
	}
	return out, nil
}

// bare tells whether a number comes without a unit.
func bare(s string) bool {
	s = strings.TrimSpace(s)
	return s == "" || !strings.ContainsAny(s[len(s)-1:], "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ%")
}

// round9 takes off what sums of steps leave in the last digits.
func round9(x float64) float64 { return math.Round(x*1e9) / 1e9 }
