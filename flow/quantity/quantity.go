// Package quantity is the one table of result quantities: name, label, unit of the bench, digits.
//
// Results hold SI values. A field of a result names its quantity in a tag,
//
//	Push float64 `q:"push"`
//
// and everything a person or another program reads comes from the table: keys and numbers of the JSON (push_N),
// headings and numbers of the CSV, labels, axes and digits of text and page. So a number is converted once, by the
// table, and a new result is one entry. A pointer to a float64 is nil where the number is not known: null in JSON, an
// empty cell in CSV, a dash in text.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Unit is a unit of the bench: an SI value is the shown value times Factor plus Offset.
type Unit struct {
	Key    string // end of a name in JSON and CSV: "mm3_s"
	Text   string // on a terminal: "mm3/s"
	Sign   string // on a page: "mm³/s"; "" for Text
	Factor float64
	Offset float64
	Times  float64 // what text shows is the JSON number times this: 100 for a share shown in per cent; 0 for 1
}

// Symbol is the unit as a page shows it.
func (u Unit) Symbol() string {
	if u.Sign != "" {
		return u.Sign
	}
	return u.Text
}

// Edge converts from SI.
func (u Unit) Edge(si float64) float64 {
	if u.Factor == 0 {
		return si
	}
	return (si - u.Offset) / u.Factor
}

// Scale is the SI value of one step of the unit.
func (u Unit) Scale() float64 {
	if u.Factor == 0 {
		return 1
	}
	return u.Factor
}

// SI converts to SI.
func (u Unit) SI(edge float64) float64 {
	if u.Factor == 0 {
		return edge
	}
	return edge*u.Factor + u.Offset
}

// Shown is the number that text shows.
func (u Unit) Shown(si float64) float64 {
	if u.Times != 0 {
		return u.Edge(si) * u.Times
	}
	return u.Edge(si)
}

// Beside says which second unit stands beside a quantity.
type Beside int

// The second units.
const (
	Alone   Beside = iota
	InKGF          // kilogram-force beside newton
	AsSpeed        // speed of the filament beside its flow; depends on the filament's cross-section
)

// Quantity is one entry of the table.
type Quantity struct {
	Name    string // without unit
	Label   string // in words, for a line of its own or an axis
	Head    string // over a column; "" for Label
	Unit    Unit
	Digits  int // significant digits in text; 0 with Decimals
	Decimal int // decimals in text where Digits is 0
	Beside  Beside
	Sign    bool   // always with a sign in text: a difference
	Given   bool   // a number that the user gave: text has no zeros at its end
	Nought  bool   // what shows as nothing is nothing: it is where a search ends
	Empty   string // what stands for an empty text
}

// Key is the name with its unit, as JSON and CSV have it.
func (q Quantity) Key() string {
	if q.Unit.Key == "" {
		return q.Name
	}
	return q.Name + "_" + q.Unit.Key
}

// Heading is the text over a column.
func (q Quantity) Heading() string {
	h := q.Head
	if h == "" {
		h = q.Label
	}
	if q.Unit.Text != "" {
		h += " " + q.Unit.Text
	}
	return h
}

// Axis is the title of an axis on a page.
func (q Quantity) Axis() string {
	if s := q.Unit.Symbol(); s != "" {
		return q.Label + ", " + s
	}
	return q.Label
}

// Number writes an SI value without its unit, rounded for a reader.
func (q Quantity) Number(si float64) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "–"
	}
	x := q.Unit.Shown(si)
	s := ""
	switch {
	case q.Nought && math.Abs(x) < 0.5*math.Pow10(-q.Decimal):
		s = strconv.FormatFloat(0, 'f', q.Decimal, 64)
	case q.Unit.Times == 100 && q.Digits == 0 && x != 0 && math.Abs(x) < 0.5*math.Pow10(-q.Decimal):
		least := strconv.FormatFloat(math.Pow10(-q.Decimal), 'f', q.Decimal, 64)
		if x < 0 {
			return "> -" + least
		}
		return "< " + least
	case q.Digits > 0:
		s = Significant(x, q.Digits)
	default:
		s = strconv.FormatFloat(x, 'f', q.Decimal, 64)
	}
	if q.Given && strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if q.Sign && x > 0 {
		s = "+" + s
	}
	return s
}

// Text writes an SI value with its unit for a terminal; Page does so for a page.
func (q Quantity) Text(si float64) string { return join(q.Number(si), q.Unit.Text) }

// Page writes an SI value with its unit for a page.
func (q Quantity) Page(si float64) string { return join(q.Number(si), q.Unit.Symbol()) }

func join(number, unit string) string {
	if unit == "" || number == "–" {
		return number
	}
	return number + " " + unit
}

// Second is the quantity in its second unit, if it has one that can be told. area is the filament's cross-section, m2.
func (q Quantity) Second(area float64) (Quantity, bool) {
	s := q
	switch {
	case q.Beside == InKGF:
		s.Unit = KilogramForce
		s.Digits = max(3, q.Digits)
	case q.Beside == AsSpeed && area > 0:
		s.Unit = MillimetrePerSecond
		s.Unit.Factor *= area // a flow, m3/s, shown as the speed of filament that carries it
		s.Label, s.Head = "speed of filament", "filament"
		s.Digits = max(3, q.Digits)
	default:
		return q, false
	}
	return s, true
}

// Significant prints a number with a fixed count of significant digits and no exponent for bench-sized values.
func Significant(x float64, digits int) string {
	if x == 0 || math.Abs(x) < 1e-9 {
		return "0"
	}
	if a := math.Abs(x); a >= 1e6 || a < 1e-3 {
		return strconv.FormatFloat(x, 'g', digits, 64)
	}
	dec := digits - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	return strconv.FormatFloat(x, 'f', max(0, dec), 64)
}

var byName = func() map[string]Quantity {
	m := map[string]Quantity{}
	for _, q := range table {
		if _, twice := m[q.Name]; twice || q.Name == "" || q.Label == "" {
			panic("quantity: " + q.Name + " is in the table twice, or has no name or label")
		}
		m[q.Name] = q
	}
	return m
}()

// Of returns the quantity of a name. It panics on a name that is not in the table: a mistake of the program, found by
// its tests.
func Of(name string) Quantity {
	q, ok := byName[name]
	if !ok {
		panic(fmt.Sprintf("quantity: %q is not in the table", name))
	}
	return q
}

// Text writes an SI value of a named quantity with its unit: Text("push", 34.2) is "34.2 N".
func Text(name string, si float64) string { return Of(name).Text(si) }

// Page is Text with the unit signs of a page.
func Page(name string, si float64) string { return Of(name).Page(si) }

// Both writes an SI value with its unit and its second unit: "34.2 N (3.49 kgf)". area is the filament's cross-section,
// m2.
func Both(name string, si, area float64) string {
	q := Of(name)
	if s, ok := q.Second(area); ok {
		return q.Text(si) + " (" + s.Text(si) + ")"
	}
	return q.Text(si)
}

// All returns the table, in its order.
func All() []Quantity { return append([]Quantity(nil), table...) }

// Known is a pointer to a number that is known.
func Known(x float64) *float64 { return &x }

// KnownIf is Known where the condition holds and the number is finite, else nil.
func KnownIf(ok bool, x float64) *float64 {
	if !ok || math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// Or is the number, or another where it is not known.
func Or(x *float64, other float64) float64 {
	if x == nil {
		return other
	}
	return *x
}
