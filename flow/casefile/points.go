package casefile

import (
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strings"

	"meltload/flow/feeder"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// NewPoint is a measured capability to be put into a file.
type NewPoint struct {
	Flow    float64 // m3/s
	Force   float64 // N
	SD      float64 // N, of single tests; 0 if not known
	Repeats int
	Cause   feeder.Cause
	Block   float64 // K, 0 if not known
	Stock   string  // polymer, "" if not known
	Current float64 // A, 0 if not known
	Kind    string  // rms or peak, of the current
	From    string  // logs
}

// PointsMark begins a file that holds points only.
const PointsMark = "# What a feeder holds, measured with meltload"

var nextTable = regexp.MustCompile(`^\s*\[`)

// MergePoints puts points into the text of a file that holds a feeder, or makes one from an empty text. A point takes
// the place of the one at its flow (within 2 %) and of its polymer; all others stay, and so does everything else of the
// text. It returns the text and what changed, a line each. diameter (m) turns speeds of the file into flows. Errors: a
// text that holds no feeder, or points that do not fit it.
func MergePoints(file string, src []byte, points []NewPoint, diameter float64) (text []byte, changes []string,
	err error) {
	if len(points) == 0 {
		return nil, nil, fmt.Errorf("casefile: no point to write: no failed test with a known flow; name the flows " +
			"with --flows")
	}
	src = strict.Plain(src)
	if len(strings.TrimSpace(string(src))) == 0 {
		name := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
		src = fmt.Appendf(nil, "%s.\n\n[feeder]\nname = %q\n", PointsMark, name)
	} else if _, err := ParsePart(file, src); err != nil {
		return nil, nil, err
	}
	f := defaults()
	doc, _ := strict.Decode(file, src, &f)
	if d := f.Filament.Diameter; d > 0 && doc.Has("filament.diameter_mm") {
		diameter = d * unit.MM
	}
	lines := strings.Split(strings.TrimRight(string(src), "\n"), "\n")
	drop := map[int]bool{}
	for _, p := range points {
		what := fmt.Sprintf("%.4g mm3/s: %.4g N by %s, n = %d", p.Flow/unit.MM3, p.Force, p.Cause, p.Repeats)
		old := -1
		for i, q := range f.Feeder.Points {
			if same(q, p, diameter) {
				old = i
			}
		}
		if old < 0 {
			changes = append(changes, "new "+what)
			continue
		}
		q := f.Feeder.Points[old]
		changes = append(changes, fmt.Sprintf("%s, was %.4g N by %s, n = %d", what, forceOf(q), orUnknown(q.Cause),
			max(1, q.Repeats)))
		from := doc.Line(fmt.Sprintf("feeder.point[%d]", old+1)) - 1
		if from < 0 || from >= len(lines) || !strings.HasPrefix(strings.TrimSpace(lines[from]), "[[") {
			// Points in one line, or in a form of their own: they cannot be taken out line by line.
			return nil, nil, fmt.Errorf("casefile: %s: the point at %.4g mm3/s does not stand under a "+
				"[[feeder.point]] of its own: write it so, or name another file", file, p.Flow/unit.MM3)
		}
		drop[from] = true
		for i := from + 1; i < len(lines) && !nextTable.MatchString(lines[i]); i++ {
			if t := strings.TrimSpace(lines[i]); t == "" || strings.HasPrefix(t, "#") {
				break
			}
			drop[i] = true
		}
	}
	var out []string
	for i, l := range lines {
		if !drop[i] {
			out = append(out, l)
		}
	}
	for _, p := range points {
		out = append(out, "", p.toml())
	}
	text = []byte(strings.Join(out, "\n") + "\n")
	if _, err := ParsePart(file, text); err != nil {
		return nil, nil, fmt.Errorf("casefile: the points do not fit %s: %w", file, err)
	}
	return text, changes, nil
}

// same tells whether a point of a file is at the flow of a new one, and of its polymer.
func same(q point, p NewPoint, diameter float64) bool {
	flow := 0.0
	switch {
	case q.Flow != nil:
		flow = *q.Flow * unit.MM3
	case q.Speed != nil:
		flow = *q.Speed * unit.MM * unit.Disc(diameter)
	}
	const near = 0.02
	return math.Abs(flow-p.Flow) <= near*p.Flow &&
		(q.Material == "" || p.Stock == "" || strings.EqualFold(q.Material, p.Stock))
}

func forceOf(q point) float64 {
	switch {
	case q.ForceN != nil:
		return *q.ForceN
	case q.ForceKG != nil:
		return *q.ForceKG * unit.KGF
	}
	return 0
}

func orUnknown(cause string) string {
	if cause == "" {
		return string(feeder.Mixed)
	}
	return cause
}

func (p NewPoint) toml() string {
	var b strings.Builder
	b.WriteString("[[feeder.point]]")
	if p.From != "" {
		fmt.Fprintf(&b, "  # %s", strings.ReplaceAll(p.From, "\n", " "))
	}
	fmt.Fprintf(&b, "\nflow_mm3_s = %.6g\nforce_N = %.5g\ncause = %q\nrepeats = %d", p.Flow/unit.MM3, p.Force,
		p.Cause, p.Repeats)
	if p.Repeats > 1 && p.SD > 0 {
		fmt.Fprintf(&b, "\nsd_N = %.3g", p.SD)
	}
	if p.Block > 0 {
		fmt.Fprintf(&b, "\nblock_degC = %.4g", unit.Celsius(p.Block))
	}
	if p.Stock != "" {
		fmt.Fprintf(&b, "\nmaterial = %q", p.Stock)
	}
	if p.Current > 0 {
		fmt.Fprintf(&b, "\ncurrent_A = %.4g\ncurrent_kind = %q", p.Current, p.Kind)
	}
	return b.String()
}
