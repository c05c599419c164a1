package loadcell

import (
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"meltload/flow/feeder"
)

// PoolBy says which logs are repeats of one feeder.
type PoolBy string

// The ways to pool. By name, the part of a file's name that tells the flow does not matter, nor what counts repeats: a
// word with a number (run 2, rep2, r3), a number in brackets, or a number alone after the flow. A number alone
// elsewhere is the feeder's own: feeder-1 and feeder-2 are two, see Numbered.
const (
	ByName   PoolBy = "name"
	ByFolder PoolBy = "folder"
	AllOne   PoolBy = "all"
	EachOwn  PoolBy = "none"
)

// PoolWays lists them.
var PoolWays = []string{string(ByName), string(ByFolder), string(AllOne), string(EachOwn)}

var (
	flowInName = regexp.MustCompile(
		`(?i)(?:^|[^0-9a-z.])(\d+(?:[.,p]\d+)?)[ _-]?mm(?:3|\^3|³)?(?:ps|[-_ ]?s)?(?:[^0-9a-z]|$)`)
	cubicInName = regexp.MustCompile(
		`(?i)(?:^|[^0-9a-z.])(\d+(?:[.,p]\d+)?)[ _-]?mm(?:3|\^3|³)(?:ps|[-_ ]?s)?(?:[^0-9a-z]|$)`)
	// A word or a bracket that counts repeats.
	repeatInName = regexp.MustCompile(
		`(?i)(?:[-_ .#]*\(\d{1,3}\)|[-_ .#]+(?:run|rep|repeat|test|try|r)[-_ .#]*\d{1,3})$`)
	// A number alone: after the flow it counts repeats; elsewhere it may as well be the feeder's own.
	numberInName = regexp.MustCompile(`(?i)[-_ .#]+(?:no|nr|n)?[-_ .#]*\d{1,3}$`)
)

// bareName is the name of a file without folder and endings.
func bareName(file string) string {
	name := filepath.Base(file)
	for _, end := range []string{".gz", ".csv", ".txt", ".log", ".tsv", ".dat", ".json", ".jsonl", ".ndjson", ".xlsx"} {
		if strings.HasSuffix(strings.ToLower(name), end) {
			name = name[:len(name)-len(end)]
		}
	}
	return name
}

// FlowInName reads a flow from a file's name, in mm3/s: "feeder-b_5mm3s_2.csv" holds 5. 0 if there is none.
func FlowInName(file string) float64 {
	m := cubicInName.FindStringSubmatch(bareName(file))
	if m == nil {
		return 0
	}
	x, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "p", ".", "P", ".").Replace(m[1]), 64)
	if err != nil {
		return 0
	}
	return x
}

// SeriesOf names the series that a file belongs to.
func SeriesOf(file string, by PoolBy) string {
	switch by {
	case AllOne:
		return "all logs"
	case EachOwn:
		return file
	case ByFolder:
		return filepath.Base(filepath.Dir(file))
	}
	name, tail := bareName(file), ""
	if i := flowInName.FindStringSubmatchIndex(name); i != nil {
		name, tail = strings.TrimRight(name[:i[2]], nameMarks), " "+name[i[1]:]
		tail = numberInName.ReplaceAllString(repeatInName.ReplaceAllString(tail, ""), "")
	}
	return shortName(file, repeatInName.ReplaceAllString(name+tail, ""))
}

const nameMarks = "-_ .#" // between the parts of a name

// shortName is a file's name without a part, with single spaces; all of it if nothing is left.
func shortName(file, part string) string {
	spaced := func(s string) string {
		return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '_' }), " ")
	}
	if short := spaced(strings.TrimRight(part, nameMarks)); short != "" {
		return short
	}
	return bareName(file)
}

// Numbered lists those of series, pooled by name, that differ by nothing but a number at the end, such as feeder-1 and
// feeder-2: other feeders as far as can be told, though repeats may be meant.
func Numbered(series []string) []string {
	like := map[string][]string{}
	for _, s := range series {
		if short := numberInName.ReplaceAllString(s, ""); short != s && !slices.Contains(like[short], s) {
			like[short] = append(like[short], s)
		}
	}
	var out []string
	for _, s := range series {
		n := like[numberInName.ReplaceAllString(s, "")]
		if len(n) > 1 && slices.Contains(n, s) && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// Series is all tests of one feeder from any number of logs.
type Series struct {
	Name   string
	Tests  []Test
	Groups []Group
}

// Gather puts tests in series by name, in the order they come, and pools each at its flows.
func Gather(names []string, tests [][]Test, confidence float64) []Series {
	var out []Series
	for i, n := range names {
		k := slices.IndexFunc(out, func(s Series) bool { return s.Name == n })
		if k < 0 {
			k = len(out)
			out = append(out, Series{Name: n})
		}
		out[k].Tests = append(out[k].Tests, tests[i]...)
	}
	for i := range out {
		out[i].Groups = Pool(out[i].Tests, confidence)
	}
	return out
}

// Verdict of a comparison.
type Verdict string

// The verdicts.
const (
	Better       Verdict = "better"
	Worse        Verdict = "worse"
	NoDifference Verdict = "no difference"
	CannotTell   Verdict = "cannot tell"
)

// Sample is a mean with its scatter: that of single tests, and their number.
type Sample struct {
	Mean, SD float64
	N        int
	Cause    feeder.Cause
}

// Difference is what a comparison of two samples says.
type Difference struct {
	Delta   float64 // second less first
	Half    float64 // half-width of its confidence interval; +Inf where the scatter is not known
	DOF     float64
	P       float64 // of a difference as large by chance; 1 where it cannot be told
	Verdict Verdict // of the second, where more is better
	Why     string
}

// Compare compares two means by Welch's t (B. L. Welch, Biometrika 34 (1947) 28; degrees of freedom of F. E.
// Satterthwaite, Biometrics Bulletin 2 (1946) 110). Where one of them has a single test, the scatter of the other is
// taken for both. Two single tests, or scatter of 0, tell nothing.
func Compare(a, b Sample, confidence float64) Difference {
	d := Difference{Delta: b.Mean - a.Mean, Half: math.Inf(1), P: 1, Verdict: CannotTell}
	va, vb := a.SD*a.SD, b.SD*b.SD
	na, nb := float64(a.N), float64(b.N)
	switch {
	case a.N < 1 || b.N < 1:
		d.Why = "no test on one side"
		return d
	case a.N == 1 && b.N == 1:
		d.Why = "one test on each side: repeat at least one of them"
		return d
	case a.N == 1:
		va = vb
		d.DOF, d.Why = nb-1, "one test on the first side: the scatter of the second is taken for both"
	case b.N == 1:
		vb = va
		d.DOF, d.Why = na-1, "one test on the second side: the scatter of the first is taken for both"
	}
	u2a, u2b := va/na, vb/nb
	u := math.Sqrt(u2a + u2b)
	if !(u > 0) {
		d.Why = "the scatter of the repeats is not known"
		return d
	}
	if d.DOF == 0 {
		d.DOF = (u2a + u2b) * (u2a + u2b) / (u2a*u2a/(na-1) + u2b*u2b/(nb-1))
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: d.DOF}
	d.Half = t.Quantile(0.5+confidence/2) * u
	d.P = 2 * (1 - t.CDF(math.Abs(d.Delta)/u))
	switch {
	case math.Abs(d.Delta) <= d.Half:
		d.Verdict = NoDifference
	case d.Delta > 0:
		d.Verdict = Better
	default:
		d.Verdict = Worse
	}
	return d
}
