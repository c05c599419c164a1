package loadcell

// Thresholds are the numbers by which a log is read. All are judgements of this project (assumed), tried on the
// simulated set in sets_test.go; none is a law. Forces are compared with noise (the standard deviation of a row at
// rest) and with the span of the log (its highest less its lowest level).
type Thresholds struct {
	// The zero.
	WindowTime     float64 // s, length of the windows in which a level is looked for
	WindowRows     int     // rows, at least
	SteadyRise     float64 // share of the span that a steady window may move from end to end
	SteadyNoise    float64 // noises that a steady window may scatter
	RestBand       float64 // share of the span within which a level is the zero still
	RestNoise      float64 // noises, likewise
	DriftRate      float64 // share of the span a second that a zero may wander; quicker is load
	DriftMost      float64 // share of the span that a zero may have wandered over a push
	DriftTold      float64 // share of the span from which the wandering is told
	BelowNoise     float64 // noises under the zero from which a row counts as below
	BelowShare     float64 // share of rows below the zero from which it is wrong
	ShortRest      float64 // s, a rest shorter than this is told
	FarZero        float64 // share of the span from which a zero that no later rest confirms is told
	NegativeOffset float64 // share of the span within which zero must lie for a falling sign to be clear

	// Pushes.
	OnNoise, OnSpan float64 // noises and share of the span above which a push starts
	OffShare        float64 // share of that below which it ends
	Pause           float64 // s below before it has ended
	Shortest        float64 // s, shorter ones are spikes
	WanderTime      float64 // s within which a push must change ...
	WanderShare     float64 // ... by this share of its force; what does not is a wandering zero

	// Falls.
	CoarseRate  float64 // Hz, rows beyond it are averaged before falls are looked for
	CoarseNoise float64 // share of the force: noise above it is averaged
	CoarseTime  float64 // s, over no more than this
	FallShare   float64 // share of the force before it, likewise
	Tooth       float64 // share of the force that a tooth of slipping must fall
	Teeth       int     // teeth that make a saw-tooth
	ToothApart  float64 // s between teeth of one saw-tooth, at most
	ToothTop    float64 // share of the first top that the tops of a saw-tooth reach
	ToothSkew   float64 // time of fall over time of rise below which a wave is a saw-tooth and no ripple
	WaveRows    float64 // rows a wave must have before its skew can be seen
	Fast        float64 // s within which the force collapses when the filament is cut
	Collapse    float64 // share of the force that a collapse does not exceed
	Recovered   float64 // share of the force above which a fall was passing
	StayLow     float64 // s that a collapse stays low
	SpikeBegin  float64 // s from the start of a push within which a spike is contact
	SpikeWidth  float64 // s, at most
	SpikeAfter  float64 // s of push that follow it
	StopFastest float64 // s, a decay that is quicker is no relaxation of melt
	StopSlowest float64 // s
	StopFall    float64 // last third over first third of what stays, under which it is a decay
	FlowEarly   float64 // s by which the flow may stop before the force falls, and count as the reason
	FlowLate    float64 // s by which the flow may stop after the force has begun to fall, and count as the reason
	FlowLag     float64 // s by which the flow column may lag the force, at most
	HiddenShare float64 // share of the rows of a push: as many single rows that stand out may hide skipping ...
	HiddenRows  int     // ... if there are this many at least ...
	HiddenLow   float64 // ... and this share of them lies below the neighbours ...
	HiddenEven  float64 // ... or this share of the ways between them is like the middle one
	PeakTime    float64 // s before a failure over which its force is read
	GapTime     float64 // s without rows that make a push doubtful

	// Plateaus.
	PlateauShare float64 // share of a push that a plateau lasts
	PlateauTime  float64 // s, at least
	PlateauRows  int     // rows, at least
	PlateauMove  float64 // share of its force that it may move from end to end
	PlateauSame  float64 // share within which neighbours belong to one plateau

	// Ripple.
	RippleCycles float64 // cycles in the stretch, at least
	RippleShare  float64 // share of the variance, at least
}

// DefaultThresholds returns the numbers used unless others are given.
func DefaultThresholds() Thresholds {
	return Thresholds{
		WindowTime: 0.4, WindowRows: 4, SteadyRise: 0.02, SteadyNoise: 3, RestBand: 0.04, RestNoise: 5,
		DriftRate: 0.001,
		DriftMost: 0.08, DriftTold: 0.02, BelowNoise: 8, BelowShare: 0.02, ShortRest: 1, FarZero: 0.25,
		NegativeOffset: 0.25,
		OnNoise:        8, OnSpan: 0.06, OffShare: 0.6, Pause: 0.7, Shortest: 0.8, WanderTime: 10, WanderShare: 0.25,
		CoarseRate: 100, CoarseNoise: 0.005, CoarseTime: 0.05, FallShare: 0.05, Tooth: 0.065, Teeth: 3, ToothApart: 4,
		ToothTop: 0.75, ToothSkew: 0.6, WaveRows: 6,
		Fast: 1, Collapse: 0.8, Recovered: 0.85, StayLow: 0.6, SpikeBegin: 1.5, SpikeWidth: 0.6, SpikeAfter: 1.5,
		StopFastest: 0.08, StopSlowest: 12, StopFall: 0.7, FlowEarly: 1.5, FlowLate: 0.4, FlowLag: 3,
		PeakTime:    0.5,
		HiddenShare: 0.02, HiddenRows: 5, HiddenLow: 0.9, HiddenEven: 0.8,
		GapTime:      2,
		PlateauShare: 1.0 / 8, PlateauTime: 1.5, PlateauRows: 6, PlateauMove: 0.03, PlateauSame: 0.03,
		RippleCycles: 3, RippleShare: 0.1,
	}
}
