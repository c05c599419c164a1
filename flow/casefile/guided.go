//go:build !js

package casefile

import (
	"bytes"
	_ "embed" // the text of a guided case
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/template"

	"meltload/flow/vary"
)

//go:embed guided.toml.tmpl
var guidedText string

var guided = template.Must(template.New("guided").Funcs(template.FuncMap{"q": quote, "mark": mark}).Parse(guidedText))

// Given is a number that was answered, or one that stands in where nothing is known.
type Given struct {
	X       float64
	Assumed bool
}

func (g Given) String() string { return strconv.FormatFloat(g.X, 'g', -1, 64) }

// Answers are what someone knows of their hot end and feeder, in the units of the case file.
type Answers struct {
	Date, Title, Material string
	AnyMaterial           bool // the material is assumed
	HotEnd, Feeder        string
	Filament, Block, Bore Given
	Passage, Length       Given // of the melt zone
	Heater, Wanted        float64
	Points                []AnswerPoint
	Motor                 *AnswerMotor
}

// AnswerPoint is a force the feeder holds.
type AnswerPoint struct {
	Flow, Force Given
	Cause       string
}

// AnswerMotor is a feeder by its data sheet.
type AnswerMotor struct {
	Holding, Rated, Current        Given
	Kind                           string
	AnyKind                        bool // the kind is assumed
	Resistance, Inductance, Supply Given
	Ratio, Wheel, Wheels           Given
}

// assumed says that something of the motor is not known.
func (m *AnswerMotor) assumed() bool {
	for _, g := range []Given{m.Holding, m.Rated, m.Current, m.Resistance, m.Inductance, m.Supply, m.Ratio, m.Wheel,
		m.Wheels} {
		if g.Assumed {
			return true
		}
	}
	return m.AnyKind
}

// filledIn are answers with what was not asked, and with how far off the assumed values may be.
type filledIn struct {
	Answers
	Land, Drag, Search       float64
	Spread                   float64
	SpreadWhy                string
	BlockK, BoreMM, BarrelMM float64
	ZoneMM, LandMM           float64
	TorqueShare, ForceShare  float64
	Tolerance                float64
}

// GuessedForce is what a feeder is taken to hold about which nothing is known, N: half of the grip of a plain toothed
// wheel on hard filament, 49 N (ABS) to 74 N (PLA), in a published bench test with 3 mm filament
// (hydraraptor.blogspot.com, "Pulling power", March 2009, read in part); half, because thinner filament gives less to
// hold on to (assumed). GuessedShare goes with it.
const (
	GuessedForce = 30
	GuessedShare = 0.5
)

// How far off an assumed value may be, either way: judgement of this project, with no source. A block in the middle of
// the processing window of its material may be as far off as the window is wide on that side.
const (
	guessedBore   = 0.1  // mm: the usual bores next to 0.4 are 0.3 and 0.5
	guessedBarrel = 0.15 // mm
	guessedZone   = 0.4  // of the length: 9 to 21 mm about 15
	guessedLand   = 0.5  // of the length
	guessedTorque = 0.4  // of the force of a motor about which something is not known
	usualTorque   = 0.2
)

// Guided writes a case file from answers, with what was not asked as visible assumptions. What is assumed is marked so
// on its line, and has its spread under [spread]. placeholder says that the data of the material stand in for others;
// window is how far (K) its processing window reaches from its middle. Errors: answers that are no case together, with
// their problems; the text is returned all the same.
func Guided(file string, a Answers, placeholder bool, window float64) ([]byte, error) {
	f := filledIn{Answers: a, Land: math.Round(2.5*a.Bore.X*100) / 100, Drag: 2, Tolerance: 0.03,
		Spread: vary.TrustedFactor, SpreadWhy: "grades of one polymer differ by this factor either way"}
	switch {
	case a.AnyMaterial:
		f.Spread, f.SpreadWhy = 2*vary.AssumedFactor, "the material is not known"
	case placeholder:
		f.Spread, f.SpreadWhy = vary.AssumedFactor, "the data of this material are placeholders"
	}
	f.Search = math.Min(1000, math.Max(60, math.Ceil(3*a.Wanted)))
	f.LandMM = round3(guessedLand * f.Land)
	if a.Filament.Assumed {
		f.Tolerance = 0.05
	}
	if a.Block.Assumed {
		f.BlockK = math.Min(50, math.Round(window))
	}
	if a.Bore.Assumed {
		f.BoreMM = guessedBore
	}
	if a.Passage.Assumed {
		f.BarrelMM = guessedBarrel
	}
	if a.Length.Assumed {
		f.ZoneMM = round3(guessedZone * a.Length.X)
	}
	if a.Motor != nil {
		f.TorqueShare = usualTorque
		if a.Motor.assumed() {
			f.TorqueShare = guessedTorque
		}
	}
	if len(a.Points) == 0 && a.Motor == nil {
		f.Points = []AnswerPoint{{Flow: Given{5, true}, Force: Given{GuessedForce, true}, Cause: "unknown"}}
	}
	for _, p := range f.Points {
		if p.Force.Assumed || p.Flow.Assumed {
			f.ForceShare = GuessedShare
		}
	}
	var b bytes.Buffer
	if err := guided.Execute(&b, f); err != nil {
		return nil, fmt.Errorf("casefile: %w", err)
	}
	text := []byte(strings.ReplaceAll(b.String(), "\n\n\n", "\n\n"))
	_, ps := Parse(file, text)
	return text, ps.Err()
}

func round3(x float64) float64 { return math.Round(x*1000) / 1000 }

// mark marks a line whose value is assumed.
func mark(g Given, why string) string {
	if !g.Assumed {
		return ""
	}
	return "  # assumed: " + why
}
