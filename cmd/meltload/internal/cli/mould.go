package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"meltload/flow/study"
	"meltload/flow/vary"
	"meltload/materials/unit"
	"meltload/report"
)

func newMould() *cobra.Command {
	var out outputs
	var over overrides
	var wall, fill float64
	c := &cobra.Command{
		Use:     "mould [case.toml]",
		GroupID: "answer",
		Short:   "Fill a small mould from the hot end: full or short, pressure, clamp, cooling",
		Long: `Mould fills the [mould] of a case: temperature through melt and mould, a frozen layer that grows, the set
flow until the force of the feeder is used up and what that force allows from there on. It says whether
the mould fills or where and why the melt stops, how long it takes, what clamp and mount must hold,
whether the part can be taken out and when, how warm the mould becomes from shot to shot, what is not
known and what it does, what would help, and how far melt runs by thickness and mould temperature.`,
		Example: `  meltload mould --report mould.html

  # a hotter mould, slower
  meltload mould my-bench.toml --mould 90 --flow 10`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			fs := c.Flags()
			if err := out.free(c, a); err != nil {
				return err
			}
			if fs.Changed("flow") && fs.Changed("fill-flow") {
				return usageError{fmt.Errorf("--flow and --fill-flow both say the set flow while filling: give one")}
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			if cs.Mould == nil {
				return usageError{fmt.Errorf("%s has no [mould]; meltload starter shows one", cs.File)}
			}
			if fs.Changed("mould") {
				if err := change(cs, "--mould", string(vary.Mould), wall); err != nil {
					return err
				}
			}
			if fs.Changed("flow") {
				fill = over.flow
			}
			if fs.Changed("flow") || fs.Changed("fill-flow") {
				if err := change(cs, "--fill-flow", string(vary.FillFlow), fill); err != nil {
					return err
				}
			}
			if cs.Mould.Surface >= cs.Block {
				return usageError{fmt.Errorf("the mould at %.4g degC (--mould or mould.mould_degC) is not colder than "+
					"the block at %.4g degC (--block or hot_end.block_degC): it never "+
					"sets", unit.Celsius(cs.Mould.Surface),
					unit.Celsius(cs.Block))}
			}
			r, err := study.FillMould(c.Context(), &cs.Setup)
			if err != nil {
				return fmt.Errorf("%s: %w", cs.File, err)
			}
			stamp(&r.Header, c, a, cs)
			if err := out.emit(c, r, report.Mould(r)); err != nil {
				return err
			}
			if !r.Good {
				return errNotHeld
			}
			return nil
		},
	}
	fs := c.Flags()
	numberFlag(fs, &wall, "mould", 0, unit.Bound{Lo: -20, Hi: 350, Unit: "degC"},
		"mould temperature in %s in place of the case's")
	numberFlag(fs, &fill, "fill-flow", 0, unit.Bound{Lo: 0.01, Hi: 1000, Unit: "mm3/s"},
		"set flow while filling in %s in place of the case's")
	over.flags(fs)
	fs.Lookup("flow").Usage = "the same as --fill-flow"
	out.flags(fs)
	return c
}
