package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
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

// line asks for one line; def is shown in brackets, and empty is what an empty line stands for.
func (g *guide) line(question, help, def, empty string) string {
	if g.err != nil {
		return empty
	}
	g.n++
	fmt.Fprintf(g.out, "\n%d. %s\n", g.n, report.Wrap(question, 80, ""))
	if help != "" {
		fmt.Fprintf(g.out, "%s\n", report.Wrap(help, 80, "   "))
	}
	return g.again(def, empty)
}

// again reads an answer to the question that stands.
func (g *guide) again(def, empty string) string {
	if g.err != nil {
		return empty
	}
	fmt.Fprintf(g.out, "   [%s] > ", def)
	if !g.in.Scan() {
		g.err = usageError{fmt.Errorf("the answers end at question %d; nothing was written", g.n)}
		if err := g.in.Err(); err != nil {
			g.err = fmt.Errorf("question %d: %w; nothing was written", g.n, err)
		}
		return empty
	}
	if s := strings.TrimSpace(g.in.Text()); s != "" {
		return s
	}
	return empty
}

// unknown are answers that say that something is not known; an empty line says so too.
var unknown = []string{"", "?", "-", "don't know", "dont know", "don’t know", "do not know", "i don't know", "unknown",
	"not known", "no idea", "not sure"}

func notKnown(s string) bool {
	return slices.Contains(unknown, strings.ToLower(strings.Trim(strings.TrimSpace(s), ".!")))
}

// number asks until the answer is a number from lo to hi in unit u, or one that says it is not known: def is assumed
// then.
func (g *guide) number(question, help, u string, def, lo, hi float64) casefile.Given {
	shown := strconv.FormatFloat(def, 'g', -1, 64)
	s := g.line(question, help, shown, "")
	for g.err == nil {
		if notKnown(s) {
			fmt.Fprintf(g.out, "   %s is assumed.\n", strings.TrimSpace(shown+" "+u))
			return casefile.Given{X: def, Assumed: true}
		}
		x, err := unit.Read(s, u)
		if err == nil && x >= lo && x <= hi {
			return casefile.Given{X: x}
		}
		why := strings.TrimSpace(fmt.Sprintf("a number from %s %s is needed", unit.Bound{Lo: lo, Hi: hi}, u))
		if err != nil {
			why = err.Error() + "; " + why
		} else {
			why = fmt.Sprintf("%q: ", s) + why
		}
		fmt.Fprintf(g.out, "%s\n", report.Wrap(why+", or Enter if you do not know.", 80, "   "))
		s = g.again(shown, "")
	}
	return casefile.Given{X: def, Assumed: true}
}

// choice asks until the answer is one of allowed, or says that it is not known: def is taken then, and the second
// result is true.
func (g *guide) choice(question, help, def string, allowed []string) (string, bool) {
	s := g.line(question, help, def, "")
	for g.err == nil {
		for _, a := range allowed {
			if strings.EqualFold(a, s) {
				return a, false
			}
		}
		if notKnown(s) {
			return def, true
		}
		hint := ""
		if n := strict.Nearest(strings.ToLower(s), allowed); n != "" {
			hint = fmt.Sprintf("; did you mean %q?", n)
		}
		fmt.Fprintf(g.out, "   %q will not do: %s%s\n", s, strings.Join(allowed, ", "), hint)
		s = g.again(def, "")
	}
	return def, true
}

// yes asks a question of yes or no; no is taken for anything that is not known.
func (g *guide) yes(question, help string) bool {
	s, _ := g.choice(question, help, "no", []string{"yes", "no", "y", "n"})
	return s == "yes" || s == "y"
}

// askCase leads through the questions and returns the text of a case file.
func askCase(file string, in io.Reader, out io.Writer) ([]byte, error) {
	g := &guide{in: bufio.NewScanner(in), out: out}
	fmt.Fprintf(out, "%s\n", report.Wrap("A few questions about your hot end and feeder. Enter will do where you do "+
		"not know: the value in brackets is "+
		"then assumed, marked so in the file, and given a spread. Numbers may have their unit: 0.4 mm, 215 C, 7.5 kgf.",
		80, ""))
	var a casefile.Answers
	a.Date = time.Now().Format("2006-01-02")
	name := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	if name == "" || name == "-" {
		name = "my bench"
	}
	a.Title = g.line("What shall this case be called?",
		"Feeder and hot end are named after it, so that cases can be compared.", name, name)
	a.HotEnd, a.Feeder = "hot end of "+a.Title, "feeder of "+a.Title
	a.Material, a.AnyMaterial = g.choice("What is the filament made of?",
		"One of: "+strings.Join(materials.Names(), ", ")+
			". The nearest plastic will do for a blend.", "pla", materials.Names())
	m, err := materials.Get(a.Material)
	if err != nil {
		return nil, err
	}
	if m.Placeholder {
		fmt.Fprintf(out, "   The data of %s are placeholders: expect a wide range, and calibrate.\n", a.Material)
	}
	g.hotEnd(&a, m)
	g.feeder(&a)
	a.Wanted = g.number("Which flow do you want, in mm3/s?",
		"Speed times layer height times line width: 100 mm/s x 0.2 mm x 0.45 mm is 9. 0 leaves it open.", "mm3/s",
		0, 0, 300).X
	if g.err != nil {
		return nil, g.err
	}
	text, err := casefile.Guided(file, a, m.Placeholder, (m.Window[1]-m.Window[0])/2)
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

// hotEnd asks for filament and hot end.
func (g *guide) hotEnd(a *casefile.Answers, m *materials.Material) {
	low, high := unit.Celsius(m.Window[0]), unit.Celsius(m.Window[1])
	a.Filament = g.number("How thick is the filament, in mm?", "Callipers at several places; 1.75 and 2.85 are usual.",
		"mm", 1.75, 1, 5)
	a.Block = g.number("What temperature does the block show, in degC?",
		fmt.Sprintf("What you set. For %s %.0f to %.0f is usual.", a.Material, low, high), "degC",
		math.Round((low+high)/2), 50, 500)
	a.Bore = g.number("How wide is the nozzle's hole, in mm?", "It is stamped on most nozzles.", "mm", 0.4, 0.1,
		math.Min(2, 0.95*a.Filament.X))
	a.Length = g.number("How long is the hot part that the filament runs through, in mm?",
		"A ruler along block and nozzle will do: about 12 is short, 20 and more is long (common practice).", "mm",
		15, 2, 200)
	passage := math.Round((a.Filament.X+0.25)*100) / 100
	a.Passage = g.number("How wide is that passage, in mm?",
		"A little more than the filament; the value in brackets is common practice.",
		"mm", passage, a.Filament.X, 3*a.Filament.X)
	a.Heater = g.number("How strong is the heater, in W?", "Where it is not known it does not count as a limit.", "W",
		0, 0, 500).X
}

// feeder asks for what is known of the feeder.
func (g *guide) feeder(a *casefile.Answers) {
	kind, _ := g.choice("What do you know about the feeder: force, motor or nothing?",
		"force: you measured what it holds. motor: you have the motor's data sheet. nothing: a cautious guess is "+
			"taken, with a wide spread.",
		"nothing", []string{"force", "motor", "nothing"})
	switch kind {
	case "force":
		for more, flow := true, 5.0; more && g.err == nil && len(a.Points) < 10; flow = 20 {
			var p casefile.AnswerPoint
			p.Flow = g.number("At which flow of filament was it pushed, in mm3/s?",
				fmt.Sprintf("Speed of the filament in mm/s times %.3g.", math.Pi/4*a.Filament.X*a.Filament.X), "mm3/s",
				flow, 0.01, 1000)
			p.Force = g.number("What force did it hold there, in N?", "Or with its unit: 7.5 kgf.", "N",
				casefile.GuessedForce, 1, 2000)
			p.Cause, _ = g.choice("How did the feeder fail?", "grind: the wheel eats the filament. skip: the motor "+
				"clicks. buckle: the filament folds.",
				"unknown", []string{"grind", "skip", "buckle", "unknown"})
			a.Points = append(a.Points, p)
			more = g.yes("Another force, at another flow?", "A slow and a fast one are better than one.")
		}
	case "motor":
		t := &casefile.AnswerMotor{}
		t.Holding = g.number("Holding torque of the motor, in N cm?", "10 N cm is 0.1 N m.", "N cm", 40, 0.1, 1000)
		t.Rated = g.number("Rated current of the motor, in A per phase?", "", "A", 1, 0.05, 20)
		t.Current = g.number("Current it is set to, in A?", "", "A", math.Round(70*t.Rated.X)/100, 0.01, 20)
		t.Kind, t.AnyKind = g.choice("Is that the rms or the peak value?",
			"See the manual of the driver or controller; peak is 1.414 times rms.",
			"peak", []string{"rms", "peak"})
		t.Resistance = g.number("Resistance of a phase, in ohm?",
			"From the data sheet, or measured across one winding.", "ohm", 2, 0.01, 200)
		t.Inductance = g.number("Inductance of a phase, in mH?", "", "mH", 3, 0.01, 200)
		t.Supply = g.number("Supply of the driver, in V?", "", "V", 24, 1, 100)
		t.Ratio = g.number("How many turns does the motor make for one of the wheel that grips?", "1 without gears.",
			"", 3, 0.1, 500)
		t.Wheel = g.number("Effective diameter of that wheel, in mm?",
			"Filament fed in one turn of the wheel, divided by 3.14.", "mm", 8, 2, 60)
		t.Wheels = g.number("How many driven wheels grip the filament: 1 or 2?", "", "", 2, 1, 2)
		t.Wheels.X = math.Floor(t.Wheels.X)
		a.Motor = t
	}
}
