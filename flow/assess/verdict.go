package assess

// Verdict says how sure it is that something holds, from the share of the samples in which it does.
type Verdict string

// The verdicts.
const (
	Held      Verdict = "held"
	Likely    Verdict = "likely held"
	Uncertain Verdict = "uncertain"
	NotHeld   Verdict = "not held"
)

// The least share of the samples for each verdict; below UncertainShare it is NotHeld.
const (
	HeldShare      = 0.95
	LikelyShare    = 0.67
	UncertainShare = 0.05
)

// Thresholds says the shares in words.
const Thresholds = "Held is said from 95 % of the samples on, likely held from 67 %, uncertain from 5 %, and not " +
	"held below that."

// Judge is the verdict for a share (0 to 1) of the samples.
func Judge(share float64) Verdict {
	switch {
	case share >= HeldShare:
		return Held
	case share >= LikelyShare:
		return Likely
	case share >= UncertainShare:
		return Uncertain
	}
	return NotHeld
}

// JudgeEnds is the verdict where there is no time to sample: whether it holds as the set-up stands, and with what moves
// it most at its easy and at its hard end. Held at the hard end is held; at the middle, likely; at the easy end alone,
// uncertain.
func JudgeEnds(easy, middle, hard bool) Verdict {
	switch {
	case hard && middle && easy:
		return Held
	case middle && (hard || easy):
		return Likely
	case easy || middle || hard:
		return Uncertain
	}
	return NotHeld
}

// Good tells whether a plan can be built on the verdict.
func (v Verdict) Good() bool { return v == Held || v == Likely }
