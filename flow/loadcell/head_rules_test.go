package loadcell

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
)

// The first 200 rows that are not blank decide how a log is written; remarks do not count, and lines keep
// their numbers.
func TestRowsThatDecide(t *testing.T) {
	for row, want := range map[string]bool{"# a": true, "  % a": true, "// a": true, "/ a": false, "/": false,
		" ":     false,
		"a # b": false, "": false, "\t#": true} {
		if remark([]byte(row)) != want {
			t.Errorf("%q is a remark: %t", row, !want)
		}
	}
	src := "\n# head\r\n \n" + strings.Repeat("1,2\r\n", 250)
	got := sniff([]byte(src))
	if len(got) != 201 || got[0].line != 2 || !got[0].note || string(got[0].text) != "# head" || got[1].line != 4 ||
		got[1].note || string(got[1].text) != "1,2" || got[200].line != 203 || sniffed != 200 {
		t.Errorf("%d rows, %+v, last %+v", len(got), got[:2], got[len(got)-1])
	}
	if got := sniff([]byte("1,2\n3,4")); len(got) != 2 || string(got[1].text) != "3,4" || got[1].line != 2 {
		t.Errorf("%+v", got)
	}
	if hasData(sniff([]byte("# a\n# b\n"))) || !hasData(sniff([]byte("# a\n1\n"))) {
		t.Error("rows of data")
	}
}

// texts are rows as bytes.
func texts(rows ...string) (out [][]byte) {
	for _, r := range rows {
		out = append(out, []byte(r))
	}
	return out
}

// The separator cuts most rows, and more than half, into the same number of columns; the first that does so in nine of
// ten is taken. Blanks part rows with a number among them.
func TestSeparatorOfRows(t *testing.T) {
	many := func(a string, n int, b string, m int) [][]byte {
		return append(texts(slices.Repeat([]string{a}, n)...), texts(slices.Repeat([]string{b}, m)...)...)
	}
	for _, x := range []struct {
		rows [][]byte
		want byte
	}{
		{texts("1;2", "3;4"), ';'}, {texts("1\t2", "3\t4"), '\t'}, {texts("1|2", "3|4"), '|'},
		{texts("1,2", "3,4"), ','},
		{texts("1 2", "3 4"), ' '}, {texts("1,5;2,5", "3,5;4,5"), ';'}, {texts("hello world", "good day"), ','},
		{texts("1", "2"), ','}, {many("1 2", 6, "a", 4), ' '}, {many("1 2", 5, "a", 5), ','},
		{many("1;2,3", 9, "1,2", 1), ';'}, {many("1;2,3", 8, "1,2", 2), ','}, {many("1;2", 6, "1,2", 4), ';'},
		{many("a b", 6, "1 2", 5), ','}, {many("a b", 4, "1 2", 6), ' '}, {many("1 2 3", 6, "1 2", 5), ' '},
		{many("x 1.5 2.5", 9, "y", 1), ' '},
	} {
		if got := separator(x.rows); got != x.want {
			t.Errorf("%s: %q, want %q", bytes.Join(x.rows, []byte(" | ")), got, x.want)
		}
	}
	if !numbersAmong(texts("x", "1,5")) || numbersAmong(texts("x", "y")) {
		t.Error("numbers among words")
	}
	for _, x := range []struct {
		rows [][]byte
		sep  byte
		want bool
	}{{texts("1,5;2", "3;4"), ';', true}, {texts("1.5;2,5", "3;4"), ';', false}, {texts("1.5;2"), ';', false},
		{texts("1,5;2,5;1.5"), ';', true}, {texts("1,5"), ',', false}, {texts("a,b;1"), ';', false},
		{texts("a.b;1,5;c.d"), ';', true}} {
		if got := decimalComma(x.rows, x.sep); got != x.want {
			t.Errorf("%q: decimal comma %t", x.rows, got)
		}
	}
}

// How a log is written: by objects or pairs of names where more than half of its rows are, behind the clock of a serial
// monitor where more than half are, else by a separator, with what the user states.
func TestGrammarOfALog(t *testing.T) {
	for _, x := range []struct {
		rows  string
		f     Format
		sep   byte
		comma bool
		keys  string
		arrow bool
	}{
		{"# a=1\n1;2,5\n3;4,5", Format{}, ';', true, "", false},
		{"1;2,5\n3;4,5", Format{DecimalComma: -1}, ';', false, "",
			false},
		{"1;2\n3;4", Format{DecimalComma: 1}, ';', true, "", false},
		{"1,2;3\n4,5;6", Format{Separator: ','}, ',', false, "",
			false},
		{"t=1 F=2\nt=2 F=3", Format{}, 0, false, "t F", false},
		{"t=1 F=2\nG=3 t=2\nboot", Format{}, 0, false, "t F G", false},
		{"t=1 F=2\nboot", Format{}, ',', false, "", false},
		{"t=1,5 F=2\nt=2 F=3", Format{DecimalComma: 1}, 0, true, "t F",
			false},
		{"a: x\nb: y\n1,2", Format{}, ',', false, "", false},
		{"a: 2 N\nb: 1:02:03\n1", Format{}, 0, false, "a b", false},
		{"{\"a\":1}\n[{\"b\":2}]\nx", Format{}, 0, false, "a b", false},
		{"{\"a\":1}\nx", Format{}, ',', false, "", false},
		{"{}\n{}\n1,2", Format{}, ',', false, "", false},
		{"10:00:01 -> 1;2\n10:00:02 -> 3;4\nboot", Format{}, ';', false, "", true},
		{"10:00:01 -> 1;2\nboot", Format{}, ',', false, "", false},
		{"10:00:01 -> t=1\n10:00:02 -> t=2\nx", Format{}, 0, false, "t", true},
	} {
		g := grammarOf(sniff([]byte(x.rows)), x.f)
		if g.sep != x.sep || g.comma != x.comma || strings.Join(g.keys, " ") != x.keys || g.arrow != x.arrow {
			t.Errorf("%q: separator %q, comma %t, keys %q, arrow %t", x.rows, g.sep, g.comma, g.keys, g.arrow)
		}
	}
	for row, want := range map[string]bool{"a=1": true, "a=1,5": true, "a=x": false, "a: 10:00:01": true, "a=2 N": true,
		"nothing": false, "a=1,5 N": true, "a=,": false} {
		if pairOfNumber([]byte(row)) != want {
			t.Errorf("%q holds a number: %t", row, !want)
		}
	}
}

// Data begins with the first row of the pattern that most rows have, holes in it aside.
func TestWhereDataBegins(t *testing.T) {
	g := &grammar{splitter: table{','}, sep: ','}
	if k := g.kinds([]byte("1,10:00:01,2 N,on,,abc")); k != "ncuw-x" {
		t.Error(k)
	}
	for src, want := range map[string]int{
		"rate,80\na,b\n1,2\n3,4": 2, "1,2\n3,4": 0, "a,b\nc,d": -1, "1,2,3\n1,2\n1,2": 1, "# 1,2\n1,2": 1,
		"1,\n,2\n1,2\n1,2": 0,
		",\n1,2":           1, "1,on\n1,x\n1,": 0, "x,y,z\n1,,x\n1,2,x\n3,4,x": 1, "1,2\n1,2\n3,4,5": 0,
		"x,1\n1,2\n1,2": 1,
	} {
		if got := g.firstData(sniff([]byte(src))); got != want {
			t.Errorf("%q: data from row %d, want %d", src, got, want)
		}
	}
	for _, x := range []struct {
		kinds, usual string
		want         bool
	}{{"n-", "nn", true}, {"-n", "nn", true}, {"--", "nn", false}, {"nx", "nn", false}, {"n", "nn", false},
		{"nn", "n", false},
		{"n-x", "nnx", true}, {"x-", "xn", false}, {"xn", "xn", true}, {"c-", "cu", true}, {"-u", "cu", true},
		{"nw", "nc", false}} {
		if holes(x.kinds, x.usual) != x.want {
			t.Errorf("%s is %s with holes: %t", x.kinds, x.usual, !x.want)
		}
	}
	// Names stand right above the data, or above a row of units; remarks may hold them.
	for src, want := range map[string]string{
		"t,F\n1,2": "t,F  1", "t,F\ns,N\n1,2": "t,F s,N 1", "s,N\n1,2": "s,N  1", "x\nt,F\n1,2": "t,F  2",
		"x\n1,2":     "  0",
		"# t,F\n1,2": "t,F  1", "# t,F\n# note\n1,2": "t,F  1", "# t,F\n# a\n# b\n1,2": "t,F  1",
		"# t,F\n# a\n# b\n# c\n1,2": "  0", "t,F\n# note\n1,2": "t,F  1", "t,F\n5,x,7\n1,2": "  0", "1,2\n3,4": "  0",
		"a,b,c\ns,N\n1,2": "s,N  2", "s,N\ns,N\n1,2": "s,N  2", "5,6\ns,N\n1,2": "s,N  2",
		"t,F\n(s),[N]\n1,2": "t,F (s),[N] 1",
		"t,F\n-,N\n1,2":     "t,F -,N 1", "t,F\n,\n1,2": "  0", "t,F\nx,N\n1,2": "x,N  2", "\"t\",'F'\n1,2": "t,F  1",
		"Force\n1\n2": "Force  1",
	} {
		rows := sniff([]byte(src))
		first := len(rows) - 1
		for first > 0 && g.kinds(rows[first-1].text) == g.kinds(rows[first].text) && !rows[first-1].note {
			first--
		}
		names, units, line := g.headers(rows, first, len(g.kinds(rows[first].text)))
		if got := fmt.Sprintf("%s %s %d", strings.Join(names, ","), strings.Join(units, ","), line); got != want {
			t.Errorf("%q: %q, want %q", src, got, want)
		}
	}
	names, _, line := g.headers(sniff([]byte("# x\nt,F\nlow,high")), -1, 0)
	if strings.Join(names, ",") != "t,F" || line != 2 {
		t.Errorf("%q, line %d", names, line)
	}
	keyed := &grammar{keys: []string{"a", "b"}}
	rows := []headRow{{line: 3}, {line: 5}}
	for _, x := range []struct {
		arrow bool
		first int
		want  string
	}{{false, 1, "a,b 5"}, {true, 1, ",a,b 5"}, {false, -1, "a,b 3"}, {true, -1, ",a,b 3"}} {
		keyed.arrow = x.arrow
		names, _, line := keyed.headers(rows, x.first, 2)
		if got := fmt.Sprintf("%s %d", strings.Join(names, ","), line); got != x.want {
			t.Errorf("%+v: %q", x, got)
		}
	}
	// Names behind the clock of a monitor, and without one.
	a := &grammar{splitter: arrow{table{','}}, arrow: true}
	for row, want := range map[string]string{"10:00:01 -> t,F": "10:00:01,t,F", "t,F": ",t,F", "t": ",t"} {
		if got := strings.Join(a.cells(headRow{text: []byte(row)}), ","); got != want {
			t.Errorf("%q: %q, want %q", row, got, want)
		}
	}
	if got := strings.Join(g.cells(headRow{text: []byte("## t ,F"), note: true}), ","); got != "t,F" {
		t.Error(got)
	}
}

// What most cells of a column hold decides what it is; half of them do not.
func TestKindsOfColumns(t *testing.T) {
	of := func(header, unit string, cells ...string) column {
		g := &grammar{splitter: table{','}, sep: ','}
		var s tally
		for _, c := range cells {
			s.add(g, []byte(c))
		}
		return columnOf(s, header, unit, false)
	}
	type is struct{ numeric, clock, flag, rising, still, suffix bool }
	for _, x := range []struct {
		cells string
		want  is
	}{
		{"1 2 3 4", is{numeric: true, rising: true}}, {"1 2 x y", is{rising: true}},
		{"1 2 3 x", is{numeric: true, rising: true}},
		{"1 3 2", is{numeric: true}}, {"1 1 1", is{numeric: true, flag: true, still: true}}, {"5 5", is{numeric: true,
			still: true}},
		{"0 1 0", is{numeric: true, flag: true}}, {"0 1 2", is{numeric: true, rising: true}}, {"5", is{numeric: true,
			still: true}},
		{"10:00:01 10:00:02 x", is{clock: true}}, {"10:00:01 x", is{}}, {"on off x", is{flag: true, still: true}},
		{"on off x y", is{still: true}}, {"1N 2N 3N", is{numeric: true, rising: true, suffix: true}},
		{"1N 2N 3 4", is{numeric: true, rising: true}}, {"2 2N 2N", is{numeric: true, still: true, suffix: true}},
		{"-1 -1", is{numeric: true, still: true}}, {"3 2 1", is{numeric: true}}, {"2 1 3", is{numeric: true}},
		{"1 2 - 3", is{numeric: true, rising: true}},
	} {
		cells := strings.Split(x.cells, " ")
		for i, c := range cells {
			cells[i] = strings.Trim(c, "-")
			if len(c) > 1 {
				cells[i] = c
			}
		}
		c := of("", "", cells...)
		if got := (is{c.numeric, c.clock, c.flag, c.rising, c.still, c.suffix}); got != x.want {
			t.Errorf("%s: %+v, want %+v", x.cells, got, x.want)
		}
	}
	if c := of("", "", ""); c.still || c.flag || c.numeric {
		t.Errorf("an empty column: %+v", c)
	}
	for _, x := range []struct {
		header, unit string
		cells        []string
		want         string
	}{{"load (N)", "", []string{"1"}, "load N"}, {"load", "kN", []string{"1"}, "load kN"},
		{"load (N)", "kN", []string{"1"}, "load kN"}, {"load", "", []string{"1 g", "2 g"}, "load gf"},
		{"load (N)", "", []string{"1 g", "2 g"}, "load N"}, {"load", "", []string{"1 g", "2"}, "load "},
		{"", "N", []string{"1"}, " N"}} {
		if c := of(x.header, x.unit, x.cells...); c.name+" "+c.unit != x.want {
			t.Errorf("%+v: %q in %q", x, c.name, c.unit)
		}
	}
	if c := columnOf(tally{}, "x", "", true); !c.numeric {
		t.Error("where no row holds a number any column may")
	}
	g := &grammar{splitter: arrow{table{','}}, arrow: true}
	cols := g.survey(sniff([]byte("# x\n10:00:01 -> 1,2\n10:00:02 -> 3")), 1, []string{"", "a"}, nil)
	if len(cols) != 3 || cols[0].name != "clock of the monitor" || !cols[0].clock || cols[1].header != "a" ||
		!cols[2].numeric {
		t.Errorf("%+v", cols)
	}
	g = &grammar{splitter: table{','}, sep: ','}
	cols = g.survey(sniff([]byte("t,F\n(s),[N]\n1,2")), 2, []string{"t", "F", "x"}, []string{"(s)", "[N]"})
	if len(cols) != 3 || cols[0].unit != "s" || cols[1].unit != "N" || cols[2].header != "x" || cols[2].numeric {
		t.Errorf("%+v", cols)
	}
}

// What is read of a row, and why one is no data; how its time is told and what is assumed of units.
func TestRowsOfALogByHand(t *testing.T) {
	for _, x := range []struct {
		what, text string
		f          Format
		want       string // times and forces, or the error
		note       string
	}{
		{"too few", "t s,F N\n0,1\n5\n1,2\n", Format{}, "0 1 1 2 too few columns", ""},
		{"no time", "t s,F N\n0,1\nx,5\n1,2\n", Format{}, "0 1 1 2 time is not a number", ""},
		{"no clock", "time,F N\n10:00:00,1\n5,5\n10:00:01,2\n", Format{}, "0 1 1 2 time is not a clock time", ""},
		{"no force", "t s,F N\n0,1\n0.5,x\n1,2\n", Format{}, "0 1 1 2 force is not a number", ""},
		{"too much", "t s,F N\n0,9e8\n0.5,1.1e9\n1,-1.1e9\n2,1\n", Format{},
			"0 9e+08 2 1 force beyond any load cell", ""},
		{"too much in kN", "t s,F kN\n0,9e5\n0.5,1.1e6\n2,1\n", Format{},
			"0 9e+08 2 1000 force beyond any load cell", ""},
		{"counted", "F N\n1\n2\n3\n", Format{Rate: 4}, "0 1 0.25 2 0.5 3", ""},
		{"counted with a bad row", "F N\n1\nx\n3\n", Format{Rate: 4}, "0 1 0.5 3 force is not a number", ""},
		{"samples", "n,F N\n7,1\n8,2\n10,3\n", Format{Rate: 4}, "0 1 0.25 2 0.75 3", ""},
		{"samples named", "sample,F N\n7,1\n8,2\n10,3\n", Format{Rate: 4}, "0 1 0.25 2 0.75 3", ""},
		{"rate stated", "t s,F N\n7,1\n9,2\n", Format{Rate: 4}, "0 1 0.25 2", "is not used"},
		{"no rate", "n,F N\n7,1\n8,2\n", Format{}, "sampling rate", ""},
		{"bad time unit", "t,F N\n7,1\n8,2\n", Format{TimeUnit: "week"}, "week", ""},
		{"bad force unit", "t s,F\n7,1\n8,2\n", Format{ForceUnit: "stone"}, "stone", ""},
		{"bad flow unit", "t s,F N,flow\n7,1,1\n8,2,2\n", Format{FlowUnit: "barrels"}, "barrels", ""},
		{"counts by their calibration", "t s,F\n0,1\n1,3\n", Format{PerCount: 2, CountZero: 1}, "0 0 1 4", ""},
		{"a unit that is stated", "t s,F N\n0,1\n1,3\n", Format{ForceUnit: "kN"}, "0 1000 1 3000", ""},
		{"counts without", "t s,F\n0,1\n1,3\n", Format{ForceUnit: "counts"}, "calibration", ""},
		{"one time", "t s,F N\n1,1\n1,2\n", Format{}, "the same time in all 2 rows", ""},
		{"a row", "t s,F N\n1,1\n", Format{}, "at least 2", ""},
		{"minutes", "t min,F N\n0,1\n0.5,2\n", Format{}, "0 1 30 2", ""},
		{"hours", "t h,F N\n0,1\n0.5,2\n", Format{}, "0 1 1800 2", ""}, {"days", "t,F N\n0,1\n0.5,2\n",
			Format{TimeUnit: "day"}, "0 1 43200 2", ""},
		{"nanoseconds", "t ns,F N\n0,1\n5e8,2\n", Format{}, "0 1 0.5 2", ""},
		{"a flow without unit", "t s,F N,flow\n0,1,5\n1,2,5\n", Format{}, "0 1 1 2", "mm3/s assumed"},
		{"a speed without unit", "t s,F N,speed\n0,1,5\n1,2,6\n", Format{}, "0 1 1 2", "only whether it is 0"},
		{"a switch", "t s,F N,feeding\n0,1,on\n1,2,off\n", Format{}, "0 1 1 2", ""},
		{"a block without unit", "t s,F N,nozzle\n0,1,210\n1,2,210\n", Format{}, "0 1 1 2", "degC assumed"},
	} {
		l, err := Parse("x", []byte(x.text), x.f)
		got := ""
		if err != nil {
			if got = err.Error(); !strings.Contains(got, x.want) {
				t.Errorf("%s: %v", x.what, err)
			}
			continue
		}
		for i := range l.Time {
			got += fmt.Sprintf(" %.6g %.6g", l.Time[i], l.Force[i])
		}
		if l.Junk.Count > 0 {
			got += " " + l.Junk.First[0].Why
		}
		if notes := strings.Join(l.Notes, ";"); got[1:] != x.want || (notes != "") != (x.note != "") ||
			!strings.Contains(notes, x.note) {
			t.Errorf("%s: %q, %q; want %q", x.what, got[1:], notes, x.want)
		}
	}
	// A flow as it is stated; of a switch and of a speed whose unit is not known only whether it runs.
	for _, x := range []struct {
		header, unit, cell string
		diameter           float64
		want               float64 // mm3/s, 1e9 for one that runs
	}{{"flow", "cm3/min", "6", 0, 100}, {"flow", "mm3/min", "6", 0, 0.1}, {"speed", "", "6", 0, 1e9},
		{"feed", "mm/s", "2",
			2.85e-3, 2 * math.Pi / 4 * 2.85 * 2.85}, {"feed", "mm/min", "60", 0, math.Pi / 4 * 1.75 * 1.75},
		{"feeding", "", "on", 0, 1e9}} {
		text := fmt.Sprintf("t s,F N,%s\n0,1,0\n1,2,%s\n2,3,7\n", x.header, x.cell)
		l, err := Parse("x", []byte(text), Format{FlowUnit: x.unit, Diameter: x.diameter})
		if err != nil || math.Abs(float64(l.Flow[1])*1e9/x.want-1) > 1e-6 || l.Flow[0] != 0 {
			t.Errorf("%+v: %v, %v", x, l, err)
		}
	}
	// Room is made for the rows at once: as many as there are, and a few per cent more.
	var b strings.Builder
	b.WriteString("t s,F N,nozzle degC\n")
	for i := range 2000 {
		fmt.Fprintf(&b, "%5d,%5d,%5d\n", i, i%7, 200)
	}
	l, err := Parse("x", []byte(b.String()), Format{})
	if err != nil || len(l.Time) != 2000 {
		t.Fatal(err)
	}
	for _, n := range []int{cap(l.Time), cap(l.Force), cap(l.Block)} {
		if n < 2000 || n > 2100 {
			t.Errorf("room for %d rows", n)
		}
	}
	// A row that no log has is counted as one, and reading goes on after it.
	long := "t s,F N\n0,1\n" + strings.Repeat("9", 2*lookAhead+5) + "\n1,2\n"
	if l, err := Parse("x", []byte(long), Format{}); err != nil || l.Junk.Count != 1 || l.Junk.First[0].Line != 3 ||
		!strings.Contains(l.Junk.First[0].Why, "too long") || l.Rows != 3 || l.Force[1] != 2 {
		t.Errorf("%v", err)
	}
}

// oneByOne is a reader without a length.
type oneByOne struct{ r io.Reader }

func (o oneByOne) Read(b []byte) (int, error) { return o.r.Read(b) }

// failing gives a text and then an error.
type failing struct{ r io.Reader }

func (f failing) Read(b []byte) (int, error) {
	n, err := f.r.Read(b)
	if err == io.EOF {
		err = errors.New("the line is cut")
	}
	return n, err
}

// Rows come without their ends, the last with or without one; a text whose reading fails is refused.
func TestRowsOfASource(t *testing.T) {
	for text, want := range map[string]string{"a\r\nb\n\nc": "a,b,,c 4", "a\n": "a 1", "": " 0", "\r\n\n": ", 2",
		"a\r": "a 1"} {
		for _, r := range []io.Reader{strings.NewReader(text), oneByOne{strings.NewReader(text)}} {
			s, err := open(r)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for {
				row, err := s.next()
				if err != nil {
					break
				}
				got = append(got, string(row))
			}
			s.close()
			if g := fmt.Sprintf("%s %d", strings.Join(got, ","), s.line); g != want {
				t.Errorf("%q: %q, want %q", text, g, want)
			}
		}
	}
	long := "t s,F N\n" + strings.Repeat("0,1\n1,2\n", lookAhead/8)
	if _, err := Read("x", failing{strings.NewReader(long)}, Format{}); err == nil {
		t.Error("a text that breaks off was read")
	}
	for text, want := range map[string]int64{"12345": 5, "\xff\xfe1\x002\x00": 3, "\xef\xbb\xbf12": 5} {
		if s, err := open(strings.NewReader(text)); err != nil || s.size != want || s.sheet {
			t.Errorf("%q: %d bytes, %v", text, s.size, err)
		}
	}
	if _, err := Parse("x", append([]byte("t,F\n"), 0, 1), Format{}); err == nil || !strings.Contains(err.Error(),
		"not text") {
		t.Errorf("%v", err)
	}
	for x, want := range map[string]float64{"on": 1, "off": 0} {
		p := &parser{log: &Log{}, g: grammar{splitter: table{','}}}
		var col []float32
		s := &side{at: 0, scale: 1, flag: true, to: &col}
		p.side(s, texts(x), 1)
		p.side(s, texts("7"), 2)
		p.side(s, texts("?"), 3)
		p.side(s, nil, 4)
		if col[0] != float32(want) || col[1] != 1 || col[2] != 1 || col[3] != 1 || p.log.Held.Count != 2 {
			t.Errorf("%s: %v", x, col)
		}
	}
	if got := fill([]float32{float32(math.NaN()), 3, 4}); got[0] != 3 || got[2] != 4 ||
		fill([]float32{float32(math.NaN())}) != nil {
		t.Errorf("%v", got)
	}
}
