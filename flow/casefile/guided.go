package casefile

import (
	"bytes"
	_ "embed" // the text of a guided case
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/template"
	"unicode"

	"meltload/flow/vary"
)

//go:embed guided.toml.tmpl
var guidedText string

var guided = template.Must(template.New("guided").Funcs(template.FuncMap{"q": quote}).Parse(guidedText))

// quote writes a text as TOML, on one line and without what does not print.
func quote(s string) string {
	return strconv.Quote(strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(s, " ")))
}

// Answers are what someone knows of their hot end and feeder, in the units of the case file. Zero values are not known.
type Answers struct {
	Date, Title, Material      string
	HotEnd, Feeder             string
	Filament, Block, Bore      float64
	Passage, Length            float64 // of the melt zone
	Heater, Wanted             float64
	Points                     []AnswerPoint
	Motor                      *AnswerMotor
	ForceShare                 float64 // plus or minus on the force of the feeder, as a share
	Land, Drag, Search, Spread float64 // filled in
	SpreadWhy                  string  // filled in
}

// AnswerPoint is a force the feeder holds.
type AnswerPoint struct {
	Flow, Force float64
	Cause       string
	Assumed     bool
}

// AnswerMotor is a feeder by its data sheet.
type AnswerMotor struct {
	Holding, Rated, Current        float64
	Kind                           string
	Resistance, Inductance, Supply float64
	Ratio, Wheel                   float64
	Wheels                         int
}

// GuessedForce is what a feeder is taken to hold about which nothing is known, N: half of the grip of a plain toothed wheel on hard
// filament, 49 N (ABS) to 74 N (PLA), in a published bench test with 3 mm filament (hydraraptor.blogspot.com, "Pulling power",
// March 2009, read in part); half, because thinner filament gives less to hold on to (assumed). GuessedShare goes with it.
const (
	GuessedForce = 30
	GuessedShare = 0.5
)

// Guided writes a case file from answers, with what was not asked as visible assumptions. placeholder says that the data of the
// material stand in for others. Errors: answers that are no case together, with their problems; the text is returned all the same.
func Guided(file string, a Answers, placeholder bool) ([]byte, error) {
	a.Land = math.Round(2.5*a.Bore*100) / 100
	a.Drag = 2
	a.Spread, a.SpreadWhy = vary.TrustedFactor, "grades of one polymer differ by this factor either way"
	if placeholder {
		a.Spread, a.SpreadWhy = vary.AssumedFactor, "the data of this material are placeholders"
	}
	a.Search = math.Min(1000, math.Max(60, math.Ceil(3*a.Wanted)))
	if len(a.Points) == 0 && a.Motor == nil {
		a.Points, a.ForceShare = []AnswerPoint{{Flow: 5, Force: GuessedForce, Cause: "unknown", Assumed: true}}, GuessedShare
	}
	var b bytes.Buffer
	if err := guided.Execute(&b, a); err != nil {
		return nil, fmt.Errorf("casefile: %w", err)
	}
	text := []byte(strings.ReplaceAll(b.String(), "\n\n\n", "\n\n"))
	_, ps := Parse(file, text)
	return text, ps.Err()
}
