package num

import "math"

// LogTable is a cubic table of a positive function over many powers of two.
// The cell is read from the bits of the argument, so no logarithm is taken:
// every octave is cut in 2^octaveBits equal cells.
type LogTable struct {
	lo   uint64 // cell number of the first cell, counted from the float64 bit pattern
	coef [][4]float64
}

const (
	octaveBits  = 3
	octaveShift = 52 - octaveBits
	octaveMask  = 1<<octaveShift - 1
)

// NewLogTable tabulates f between 2^e0 and 2^e1. f must be positive and smooth
// on the scale of an octave. Outside, the argument is held at the nearer end.
func NewLogTable(f func(float64) float64, e0, e1 int) *LogTable {
	lo := math.Float64bits(math.Ldexp(1, e0)) >> octaveShift
	hi := math.Float64bits(math.Ldexp(1, e1)) >> octaveShift
	o := &LogTable{lo: lo, coef: make([][4]float64, hi-lo)}
	for i := range o.coef {
		b := (lo + uint64(i)) << octaveShift
		a := math.Float64frombits(b)
		h := math.Float64frombits(b+1<<octaveShift) - a
		y0, y1, y2, y3 := f(a), f(a+h/3), f(a+2*h/3), f(a+h)
		o.coef[i] = [4]float64{
			y0,
			(-11*y0 + 18*y1 - 9*y2 + 2*y3) / 2,
			(18*y0 - 45*y1 + 36*y2 - 9*y3) / 2,
			(-9*y0 + 27*y1 - 27*y2 + 9*y3) / 2,
		}
	}
	return o
}

// At returns the tabulated value at x > 0.
func (o *LogTable) At(x float64) float64 {
	b := math.Float64bits(x)
	i := b>>octaveShift - o.lo
	t := float64(b&octaveMask) * (1.0 / (octaveMask + 1))
	if i >= uint64(len(o.coef)) {
		i, t = o.end(x)
	}
	c := &o.coef[i]
	return c[0] + t*(c[1]+t*(c[2]+t*c[3]))
}

// Slope returns the tabulated value at x > 0 and its derivative by ln x.
func (o *LogTable) Slope(x float64) (y, dy float64) {
	b := math.Float64bits(x)
	i := b>>octaveShift - o.lo
	t := float64(b&octaveMask) * (1.0 / (octaveMask + 1))
	if i >= uint64(len(o.coef)) {
		i, t = o.end(x)
	}
	c := &o.coef[i]
	// x over the cell width is the mantissa counted in cells; the table begins with an octave.
	m := float64(1<<octaveBits+i&(1<<octaveBits-1)) + t
	return c[0] + t*(c[1]+t*(c[2]+t*c[3])), m * (c[1] + t*(2*c[2]+t*3*c[3]))
}

// end returns the cell and place that hold for an argument outside the table;
// a place below the table has wrapped round to a huge cell number.
func (o *LogTable) end(x float64) (uint64, float64) {
	if x >= 1 {
		return uint64(len(o.coef)) - 1, 1
	}
	return 0, 0
}
