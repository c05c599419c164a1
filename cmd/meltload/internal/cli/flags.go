package cli

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// bound says what a flag of numbers takes. Whatever is outside is refused while the command line is read, NaN and
// infinities too.
type bound struct {
	lo, hi float64
	unit   string // one that unit.Read knows; "" for a plain number
	whole  bool
	zero   bool // 0 as well, where it lies outside
	either bool // of both signs: the bounds are those of the size
}

func (b bound) String() string {
	s := fmt.Sprintf("%s to %s", decimal(b.lo), decimal(b.hi))
	if b.either {
		s = "-" + decimal(b.hi) + " to " + decimal(b.hi)
		if b.lo > 0 {
			s += ", at least " + decimal(b.lo) + " in size"
		}
	}
	if b.zero {
		s = "0 or " + s
	}
	return s
}

// decimal writes a number in the shortest way, large ones without an exponent.
func decimal(x float64) string {
	if math.Abs(x) >= 1e4 && math.Abs(x) < 1e7 {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// read takes one number, with its unit and a decimal comma if need be.
func (b bound) read(s string) (float64, error) {
	x, err := unit.Read(s, b.unit)
	size := x
	if b.either {
		size = math.Abs(x)
	}
	kind := "allowed are "
	if b.whole {
		kind = "allowed are whole numbers, "
	}
	switch allowed := strings.TrimSpace(kind + b.String() + " " + b.unit); {
	case err != nil:
		return 0, fmt.Errorf("%w; %s", err, allowed)
	case b.zero && x == 0:
	case !(size >= b.lo && size <= b.hi), b.whole && x != math.Trunc(x):
		return 0, fmt.Errorf("%s", allowed)
	}
	return x, nil
}

// usage puts unit and bounds where a flag's text has %s.
func (b bound) usage(text string) string {
	what := "(" + b.String() + ")"
	if b.unit != "" {
		what = "`" + b.unit + "` " + what
	}
	return strings.Replace(text, "%s", what, 1)
}

// number is a flag that takes one number.
type number struct {
	bound
	set func(float64)
	now float64
}

func (n *number) String() string { return decimal(n.now) }
func (n *number) Type() string   { return "number" }
func (n *number) Set(s string) error {
	x, err := n.read(s)
	if err == nil {
		n.now = x
		n.set(x)
	}
	return err
}

// numberFlag makes a flag of one number; text says what it is, with %s for unit and bounds.
func numberFlag(fs *pflag.FlagSet, p *float64, name string, value float64, b bound, text string) {
	*p = value
	fs.Var(&number{b, func(x float64) { *p = x }, value}, name, b.usage(text))
}

// wholeFlag is numberFlag for a whole number.
func wholeFlag(fs *pflag.FlagSet, p *int, name string, value int, b bound, text string) {
	*p, b.whole = value, true
	fs.Var(&number{b, func(x float64) { *p = int(x) }, float64(value)}, name, b.usage(text))
}

// maxListed is how many numbers a list may have.
const maxListed = 200

// numbers is a flag that takes a list of numbers.
type numbers struct {
	bound
	p    *[]float64
	pair bool // two, low end first
}

func (n *numbers) String() string {
	if n.p == nil {
		return ""
	}
	s := make([]string, len(*n.p))
	for i, x := range *n.p {
		s[i] = decimal(x)
	}
	return strings.Join(s, ",")
}
func (n *numbers) Type() string { return "list" }
func (n *numbers) Set(s string) error {
	x, err := n.list(s)
	if err != nil {
		return err
	}
	if n.pair && (len(x) != 2 || x[1] <= x[0]) {
		return fmt.Errorf("two numbers are wanted, low end first")
	}
	*n.p = x
	return nil
}

// list reads numbers that stand between commas, or between semicolons where the decimal sign is a comma; 200:240:10 is
// 200, 210, 220, 230, 240.
func (b bound) list(s string) ([]float64, error) {
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
			x, err := b.read(part)
			if err != nil {
				return nil, fmt.Errorf("%q: %w, %s", strings.TrimSpace(part), err, how)
			}
			out = append(out, x)
		}
		if len(out) > maxListed {
			return nil, fmt.Errorf("more than %d numbers", maxListed)
		}
	}
	return out, nil
}

// span reads a range, from:to:step.
func (b bound) span(s string) ([]float64, error) {
	ends := strings.Split(s, ":")
	if len(ends) != 3 {
		return nil, fmt.Errorf("%q: a range is written from:to:step", s)
	}
	step := b
	if b.unit == "degC" {
		step.unit = "K" // a difference: 18 F are 10 K
	}
	if bare(ends[0]) != bare(ends[2]) || bare(ends[1]) != bare(ends[2]) {
		return nil, fmt.Errorf("%q: write the unit with each of the three numbers, or with none (%s)", s, b.unit)
	}
	var x [3]float64
	for i, e := range ends[:2] {
		var err error
		if x[i], err = b.read(e); err != nil {
			return nil, fmt.Errorf("%q: %w", strings.TrimSpace(e), err)
		}
	}
	x[2], _ = unit.Read(ends[2], step.unit)
	if !(x[2] > 0) {
		return nil, fmt.Errorf("%q: the step must be a number above 0%s; a range is written from:to:step", ends[2],
			strings.TrimRight(" "+step.unit, " "))
	}
	if x[0] > x[1] {
		return nil, fmt.Errorf("%q: a range is written from:to:step, and from must not be above to: %s:%s:%s", s,
			ends[1], ends[0], ends[2])
	}
	n := math.Floor((x[1]-x[0])/x[2] + 1e-9)
	if n > maxListed {
		return nil, fmt.Errorf("%q: more than %d numbers", s, maxListed)
	}
	if last := x[0] + n*x[2]; x[1]-last > 1e-6*x[2] {
		return nil, fmt.Errorf("%q: the steps end at %s, not at %s; write %s:%s:%s, or list the numbers", s,
			decimal(round9(last)), decimal(x[1]), decimal(x[0]), decimal(round9(last)), decimal(x[2]))
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

// listFlag makes a flag of a list of numbers; text says what it is, with %s for unit and bounds.
func listFlag(fs *pflag.FlagSet, p *[]float64, name string, value []float64, b bound, text string) {
	*p = value
	fs.Var(&numbers{bound: b, p: p}, name, b.usage(text))
}

// pairFlag is listFlag for two numbers, low end first.
func pairFlag(fs *pflag.FlagSet, p *[]float64, name string, b bound, text string) {
	fs.Var(&numbers{bound: b, p: p, pair: true}, name, b.usage(text))
}

// choice is a flag that takes one of several words.
type choice struct {
	p       *string
	allowed []string
	meant   func(string) string // what a word not allowed stands for, "" if unknown; nil: the nearest in letters
}

func (c *choice) String() string {
	if c.p == nil {
		return ""
	}
	return *c.p
}
func (c *choice) Type() string { return "string" }
func (c *choice) Set(s string) error {
	for _, a := range c.allowed {
		if strings.EqualFold(a, s) {
			*c.p = a
			return nil
		}
	}
	msg := "allowed are " + strings.Join(c.allowed, ", ")
	meant := c.meant
	if meant == nil {
		meant = func(s string) string { return strict.Nearest(s, c.allowed) }
	}
	if n := meant(s); n != "" {
		msg += fmt.Sprintf("; did you mean %q?", n)
	}
	return fmt.Errorf("%s", msg)
}

// choiceFlag makes a flag of one of several words.
func choiceFlag(fs *pflag.FlagSet, p *string, name, value string, allowed []string, text string) {
	*p = value
	fs.Var(&choice{p: p, allowed: allowed}, name, text)
}

// choices is a flag that takes several of several words.
type choices struct {
	p       *[]string
	allowed []string
}

func (c *choices) String() string {
	if c.p == nil {
		return ""
	}
	return strings.Join(*c.p, ",")
}
func (c *choices) Type() string { return "list" }
func (c *choices) Set(s string) error {
	var out []string
	for _, w := range strings.Split(s, ",") {
		one := choice{p: new(string), allowed: c.allowed}
		if err := one.Set(strings.TrimSpace(w)); err != nil {
			return fmt.Errorf("%q: %w", strings.TrimSpace(w), err)
		}
		out = append(out, *one.p)
	}
	*c.p = out
	return nil
}

// choicesFlag makes a flag of several words, separated by commas.
func choicesFlag(fs *pflag.FlagSet, p *[]string, name string, value, allowed []string, text string) {
	*p = value
	fs.Var(&choices{p, allowed}, name, text)
}

// flagError says what is wrong with a flag: a name that is not one comes with the nearest.
func flagError(fs *pflag.FlagSet, err error) string {
	var none *pflag.NotExistError
	if errors.As(err, &none) {
		var known []string
		fs.VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
		if n := strict.Nearest(none.GetSpecifiedName(), known); n != "" {
			return fmt.Sprintf("%v; did you mean --%s?", err, n)
		}
	}
	return err.Error()
}
