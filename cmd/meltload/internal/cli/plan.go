package cli

import (
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"meltload/flow/benchplan"
	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report"
)

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * by
	}
	return out
}

func newPlan() *cobra.Command {
	var out outputs
	var over overrides
	var p planFlags
	c := &cobra.Command{
		Use:     "plan [case.toml]",
		GroupID: "bench",
		Short:   "Plan a bench test: temperatures, order, soaks, repeats, and whether the rig suffices",
		Long: `Plan finds the block temperatures at which the load of a case steps evenly through the wanted
range of force at each test flow, puts the runs in order, says how long to soak, purge and hold
(from the predicted trace), how many repeats the wanted confidence needs, and checks load cell,
logger and ripple. Where temperature cannot span the range it says which bore could.

With --ramps it plans ramps to failure instead: for each flow the block temperature to start from, then heater
off and feed on until the feeder fails; predicted force against time with its range, failure temperature
and time, filament, the force to stop at, the load cell, and the repeats.

The report prints as a page to take to the bench; --csv writes the run sheet.`,
		Example: `  meltload plan --force-low 15 --force-high 60 --cell 20 --rate 80 --report plan.html

  # two flows, more levels, own case
  meltload plan my-bench.toml --force-low 10 --force-high 50 --flows 5,20 --levels 6

  # push the feeder to failure at a slow and a fast flow
  meltload plan my-bench.toml --ramps --flows 5,15 --cell 20 --report ramps.html`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if p.High <= p.Low {
				return usageError{fmt.Errorf("--force-high %g: it must lie above --force-low %g", p.High, p.Low)}
			}
			if err := out.free(c, a); err != nil {
				return err
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			if p.ramps {
				r, err := study.MakeRamps(c.Context(), &cs.Setup, p.rampWish())
				if err != nil {
					return err
				}
				stamp(&r.Header, c, a, cs)
				return out.emit(c, r, report.Ramps(r))
			}
			r, err := study.MakePlan(c.Context(), &cs.Setup, p.wish())
			if err != nil {
				return err
			}
			stamp(&r.Header, c, a, cs)
			return out.emit(c, r, report.Plan(r))
		},
	}
	p.flags(c.Flags())
	over.flags(c.Flags())
	out.flags(c.Flags())
	return c
}

// planFlags are the flags of plan, in the units of the bench.
type planFlags struct {
	benchplan.Wish
	ramps         bool
	cell          float64 // kgf
	flows, blocks []float64
}

// span are the block temperatures given, if there are.
func (p *planFlags) span() (blocks [2]float64) {
	if len(p.blocks) == 2 {
		blocks = [2]float64{unit.Kelvin(p.blocks[0]), unit.Kelvin(p.blocks[1])}
	}
	return blocks
}

func (p *planFlags) wish() benchplan.Wish {
	w := p.Wish
	w.Flows, w.CellMax, w.Blocks = scaled(p.flows, unit.MM3), p.cell*unit.KGF, p.span()
	return w
}

func (p *planFlags) rampWish() benchplan.RampWish {
	w := p.wish()
	return benchplan.RampWish{
		Flows: w.Flows, Confidence: w.Confidence, Scatter: w.Scatter, HalfWidth: w.HalfWidth, CellMax: w.CellMax,
		Blocks: w.Blocks,
	}
}

func (p *planFlags) flags(fs *pflag.FlagSet) {
	force := unit.Bound{Lo: 0.1, Hi: 2000, Unit: "N"}
	share := func(lo, hi float64) unit.Bound { return unit.Bound{Lo: lo, Hi: hi, Unit: "share"} }
	fs.BoolVar(&p.ramps, "ramps", false, "plan ramps to failure: heater off while feeding, until the feeder fails")
	numberFlag(fs, &p.Low, "force-low", 15, force, "low end of the wanted push force, %s")
	numberFlag(fs, &p.High, "force-high", 60, force, "high end of the wanted push force, %s")
	wholeFlag(fs, &p.Levels, "levels", 5, unit.Bound{Lo: 2, Hi: 50}, "how many force levels %s")
	listFlag(fs, &p.flows, "flows", []float64{5, 20}, unit.Bound{Lo: 0.01, Hi: 1000, Unit: "mm3/s"},
		"test flows in %s, separated by commas")
	pairFlag(fs, &p.blocks, "blocks", unit.Bound{Lo: 50, Hi: 500, Unit: "degC"},
		"lowest and highest block temperature in %s, separated by a comma; default: the material's window")
	numberFlag(fs, &p.cell, "cell", 0, unit.Bound{Lo: 0.1, Hi: 500, Unit: "kgf"},
		"full scale of the load cell in %s (a 5 kg cell is 5)")
	numberFlag(fs, &p.CellStep, "cell-step", 0, unit.Bound{Lo: 1e-6, Hi: 50, Unit: "N"},
		"smallest step the logger shows, %s")
	numberFlag(fs, &p.Rate, "rate", 10, unit.Bound{Lo: 0.1, Hi: 1e5, Unit: "Hz"}, "sampling rate of the logger, %s")
	wholeFlag(fs, &p.GearTeeth, "gear-teeth", 0, unit.Bound{Lo: 4, Hi: 500},
		"teeth of the drive wheel %s, for the ripple check")
	numberFlag(fs, &p.Scatter, "scatter", 0.05, share(0.001, 1),
		"expected standard deviation of single tests, as a %s of the force (assumed)")
	numberFlag(fs, &p.HalfWidth, "half-width", 0.10, share(0.005, 1),
		"wanted half-width of the confidence interval, as a %s of the force")
	numberFlag(fs, &p.Confidence, "confidence", 0.95, share(0.5, 0.999), "wanted confidence, as a %s")
}
