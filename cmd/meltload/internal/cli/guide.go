package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"meltload/flow/casefile"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// guide asks in plain words. The first failure of the input ends it; nothing is written then.
type guide struct {
	in  *bufio.Scanner
	out io.Writer
	n   int
	err error
}

// line asks for one line; def is taken for an empty one.
func (g *guide) line(question, help, def string) string {
	if g.err != nil {
		return def
	}
	g.n++
	fmt.Fprintf(g.out, "\n%d. %s\n", g.n, report.Wrap(question, 80, ""))
	if help != "" {
		fmt.Fprintf(g.out, "%s\n", report.Wrap(help, 80, "   "))
	}
	return g.again(def)
}

// again reads an answer to the question that stands.
func (g *guide) again(def string) string {
	if g.err != nil {
		return def
	}
	fmt.Fprintf(g.out, "   [%s] > ", def)
	if !g.in.Scan() {
		g.err = usageError{fmt.Errorf("the answers end at question %d; nothing was written", g.n)}
		if err := g.in.Err(); err != nil {
			g.err = fmt.Errorf("question %d: %w; nothing was written", g.n, err)
		}
		return def
	}
	if s := strings.TrimSpace(g.in.Text()); s != "" {
		return s
	}
	return def
}

// number asks until the answer is a number from lo to hi; other may read what is no plain number.
func (g *guide) number(question, help, u string, def, lo, hi float64, other func(string) (float64, bool)) float64 {
	s := g.line(question, help, strconv.FormatFloat(def, 'g', -1, 64))
	for g.err == nil {
		x, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
		ok := err == nil
		if !ok && other != nil {
			x, ok = other(s)
		}
		if ok && x >= lo && x <= hi {
			return x
		}
		fmt.Fprintf(g.out, "   %q will not do: a number from %g to %g %s is needed.\n", s, lo, hi, u)
		s = g.again(strconv.FormatFloat(def, 'g', -1, 64))
	}
	return def
}

// choice asks until the answer is one of allowed.
func (g *guide) choice(question, help, def string, allowed []string) string {
	s := g.line(question, help, def)
	for g.err == nil {
		for _, a := range allowed {
			if strings.EqualFold(a, s) {
				return a
			}
		}
		hint := ""
		if n := strict.Nearest(strings.ToLower(s), allowed); n != "" {
			hint = fmt.Sprintf("; did you mean %q?", n)
		}
		fmt.Fprintf(g.out, "   %q will not do: %s%s\n", s, strings.Join(allowed, ", "), hint)
		s = g.again(def)
	}
	return def
}

// kgf reads a force with its unit, N or kgf.
func kgf(s string) (float64, bool) {
	s = strings.ToLower(strings.TrimSpace(strings.Replace(s, ",", ".", 1)))
	by := 1.0
	switch {
	case strings.HasSuffix(s, "kgf"):
		s, by = strings.TrimSuffix(s, "kgf"), unit.KGF
	case strings.HasSuffix(s, "kg"):
		s, by = strings.TrimSuffix(s, "kg"), unit.KGF
	case strings.HasSuffix(s, "n"):
		s = strings.TrimSuffix(s, "n")
	default:
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	return math.Round(x*by*100) / 100, err == nil
}

// askCase leads through the questions and returns the text of a case file.
func askCase(file string, in io.Reader, out io.Writer) ([]byte, error) {
	g := &guide{in: bufio.NewScanner(in), out: out}
	fmt.Fprintf(out, "%s\n", report.Wrap("A few questions about your hot end and feeder. Enter takes the value in brackets. What you do not know is assumed, marked so in the file, and given a spread.", 80, ""))
	var a casefile.Answers
	a.Date = time.Now().Format("2006-01-02")
	name := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	if name == "" || name == "-" {
		name = "my bench"
	}
	a.Title = g.line("What shall this case be called?", "Feeder and hot end are named after it, so that cases can be compared.", name)
	a.Material = g.choice("What is the filament made of?", "One of: "+strings.Join(materials.Names(), ", ")+". The nearest plastic will do for a blend.", "pla", materials.Names())
	m, err := materials.Get(a.Material)
	if err != nil {
		return nil, err
	}
	if m.Placeholder {
		fmt.Fprintf(out, "   The data of %s are placeholders: expect a wide range, and calibrate.\n", a.Material)
	}
	a.Filament = g.number("How thick is the filament, in mm?", "Callipers at several places; 1.75 and 2.85 are usual.", "mm", 1.75, 1, 5, nil)
	middle := math.Round(unit.Celsius((m.Window[0] + m.Window[1]) / 2))
	a.Block = g.number("What temperature does the block show, in degC?", fmt.Sprintf("What you set. For %s %.0f to %.0f is usual.", a.Material, unit.Celsius(m.Window[0]), unit.Celsius(m.Window[1])), "degC", middle, 50, 500, nil)
	a.Bore = g.number("How wide is the nozzle's hole, in mm?", "It is stamped on most nozzles.", "mm", 0.4, 0.1, math.Min(2, 0.95*a.Filament), nil)
	a.Length = g.number("How long is the hot part that the filament runs through, in mm?", "A ruler along block and nozzle will do: about 12 is short, 20 and more is long (common practice).", "mm", 15, 2, 200, nil)
	passage := math.Round((a.Filament+0.25)*100) / 100
	a.Passage = g.number("How wide is that passage, in mm?", "A little more than the filament; the value in brackets is common practice.", "mm", passage, a.Filament, 3*a.Filament, nil)
	a.Heater = g.number("How strong is the heater, in W?", "0 if you do not know: it then does not count as a limit.", "W", 0, 0, 500, nil)
	a.HotEnd, a.Feeder = "hot end of "+a.Title, "feeder of "+a.Title
	switch g.choice("What do you know about the feeder: force, motor or nothing?", "force: you measured what it holds. motor: you have the motor's data sheet. nothing: a cautious guess is taken, with a wide spread.", "nothing", []string{"force", "motor", "nothing"}) {
	case "force":
		for more, flow := true, 5.0; more && len(a.Points) < 10; flow = 20 {
			var p casefile.AnswerPoint
			p.Flow = g.number("At which flow of filament was it pushed, in mm3/s?", fmt.Sprintf("Speed of the filament in mm/s times %.3g.", math.Pi/4*a.Filament*a.Filament), "mm3/s", flow, 0.01, 1000, nil)
			p.Force = g.number("What force did it hold there, in N?", "Or with its unit: 7.5 kgf.", "N", 50, 1, 2000, kgf)
			p.Cause = g.choice("How did it give way?", "grind: the wheel eats the filament. skip: the motor clicks. buckle: the filament folds.", "unknown", []string{"grind", "skip", "buckle", "unknown"})
			a.Points = append(a.Points, p)
			more = g.choice("Another force, at another flow?", "A slow and a fast one are better than one.", "no", []string{"yes", "no"}) == "yes"
			if g.err != nil {
				break
			}
		}
	case "motor":
		t := &casefile.AnswerMotor{}
		t.Holding = g.number("Holding torque of the motor, in N cm?", "10 N cm is 0.1 N m.", "N cm", 40, 0.1, 1000, nil)
		t.Rated = g.number("Rated current of the motor, in A per phase?", "", "A", 1, 0.05, 20, nil)
		t.Current = g.number("Current it is set to, in A?", "", "A", math.Round(70*t.Rated)/100, 0.01, 20, nil)
		t.Kind = g.choice("Is that the rms or the peak value?", "See the manual of the driver or controller; peak is 1.414 times rms.", "rms", []string{"rms", "peak"})
		t.Resistance = g.number("Resistance of a phase, in ohm?", "From the data sheet, or measured across one winding.", "ohm", 2, 0.01, 200, nil)
		t.Inductance = g.number("Inductance of a phase, in mH?", "", "mH", 3, 0.01, 200, nil)
		t.Supply = g.number("Supply of the driver, in V?", "", "V", 24, 1, 100, nil)
		t.Ratio = g.number("How many turns does the motor make for one of the wheel that grips?", "1 without gears.", "", 3, 0.1, 500, nil)
		t.Wheel = g.number("Effective diameter of that wheel, in mm?", "Filament fed in one turn of the wheel, divided by 3.14.", "mm", 8, 2, 60, nil)
		t.Wheels = int(g.number("How many driven wheels grip the filament: 1 or 2?", "", "", 2, 1, 2, nil))
		a.Motor = t
	}
	a.Wanted = g.number("Which flow do you want, in mm3/s?", "Speed times layer height times line width: 100 mm/s x 0.2 mm x 0.45 mm is 9. 0 leaves it open.", "mm3/s", 0, 0, 300, nil)
	if g.err != nil {
		return nil, g.err
	}
	text, err := casefile.Guided(file, a, m.Placeholder)
	var ps strict.Problems
	if errors.As(err, &ps) && text != nil {
		fmt.Fprintf(out, "\nThe answers do not make a case yet; the file is written for you to put right:\n")
		for _, p := range ps {
			fmt.Fprintf(out, "%s\n", report.Wrap(p.Error(), 86, "  ! "))
		}
		return text, nil
	}
	return text, err
}
