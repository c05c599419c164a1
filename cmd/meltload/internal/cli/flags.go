package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"meltload/materials/strict"
	"meltload/materials/unit"
)

// usage puts unit and bounds where a flag's text has %s.
func usage(b unit.Bound, text string) string {
	what := "(" + b.String() + ")"
	if b.Unit != "" {
		what = "`" + b.Unit + "` " + what
	}
	return strings.Replace(text, "%s", what, 1)
}

// number is a flag that takes one number.
type number struct {
	unit.Bound
	set func(float64)
	now float64
}

func (n *number) String() string { return unit.Decimal(n.now) }
func (n *number) Type() string   { return "number" }
func (n *number) Set(s string) error {
	x, err := n.Read(s)
	if err == nil {
		n.now = x
		n.set(x)
	}
	return err
}

// numberFlag makes a flag of one number; text says what it is, with %s for unit and bounds.
func numberFlag(fs *pflag.FlagSet, p *float64, name string, value float64, b unit.Bound, text string) {
	*p = value
	fs.Var(&number{b, func(x float64) { *p = x }, value}, name, usage(b, text))
}

// wholeFlag is numberFlag for a whole number.
func wholeFlag(fs *pflag.FlagSet, p *int, name string, value int, b unit.Bound, text string) {
	*p, b.Whole = value, true
	fs.Var(&number{b, func(x float64) { *p = int(x) }, float64(value)}, name, usage(b, text))
}

// numbers is a flag that takes a list of numbers.
type numbers struct {
	unit.Bound
	p    *[]float64
	pair bool // two, low end first
}

func (n *numbers) String() string {
	if n.p == nil {
		return ""
	}
	s := make([]string, len(*n.p))
	for i, x := range *n.p {
		s[i] = unit.Decimal(x)
	}
	return strings.Join(s, ",")
}
func (n *numbers) Type() string { return "list" }
func (n *numbers) Set(s string) error {
	x, err := n.List(s)
	if err != nil {
		return err
	}
	if n.pair && (len(x) != 2 || x[1] <= x[0]) {
		return fmt.Errorf("two numbers are wanted, low end first")
	}
	*n.p = x
	return nil
}

// listFlag makes a flag of a list of numbers; text says what it is, with %s for unit and bounds.
func listFlag(fs *pflag.FlagSet, p *[]float64, name string, value []float64, b unit.Bound, text string) {
	*p = value
	fs.Var(&numbers{Bound: b, p: p}, name, usage(b, text))
}

// pairFlag is listFlag for two numbers, low end first.
func pairFlag(fs *pflag.FlagSet, p *[]float64, name string, b unit.Bound, text string) {
	fs.Var(&numbers{Bound: b, p: p, pair: true}, name, usage(b, text))
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
		if a == s || strings.EqualFold(a, s) && !unit.Mega(s) {
			*c.p = a
			return nil
		}
	}
	msg := "allowed are " + strings.Join(c.allowed, ", ")
	if unit.Mega(s) {
		return fmt.Errorf("%s; M stands for a million, m for a thousandth", msg)
	}
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
