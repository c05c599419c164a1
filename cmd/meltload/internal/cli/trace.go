package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"meltload/flow/study"
	"meltload/materials/unit"
	"meltload/report"
)

func newTrace() *cobra.Command {
	var out outputs
	var over overrides
	var feed, then, ramp, column float64
	var off bool
	c := &cobra.Command{
		Use:     "trace [case.toml]",
		GroupID: "bench",
		Short:   "Play a bench run in time: soaked start, feed, and cooling until the feeder fails",
		Long: `Trace plays a run: the melt zone soaked at the block temperature, feeding at the wanted flow, the
plateau on molten stock, the rise as cold stock arrives, and then, if asked, the heater off or the
set temperature ramped down until the load meets what the feeder holds.`,
		Example: `  # 60 s of feed, then heater off until the feeder fails
  meltload trace --flow 5 --feed 60 --heater-off --report trace.html

  # ramp the set temperature down by 20 K a minute
  meltload trace my-bench.toml --flow 5 --feed 60 --ramp -20`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			if off && ramp != 0 {
				return usageError{fmt.Errorf("--heater-off and --ramp: give one of them")}
			}
			if err := out.free(c, a); err != nil {
				return err
			}
			cs, err := load(c, a, &over)
			if err != nil {
				return err
			}
			if cs.Target == 0 {
				return usageError{fmt.Errorf("the case names no wanted flow; give --flow")}
			}
			r, err := study.Trace(c.Context(), &cs.Setup, study.TraceOptions{Feed: feed, HeaterOff: off,
				Ramp: ramp / 60, Then: then, Column: column * unit.MM})
			if err != nil {
				return err
			}
			stamp(&r.Header, c, a, cs)
			return out.emit(c, r, report.Trace(r))
		},
	}
	fs := c.Flags()
	numberFlag(fs, &feed, "feed", 60, unit.Bound{Lo: 0.1, Hi: 36000, Unit: "s"},
		"feeding at constant block temperature, %s")
	fs.BoolVar(&off, "heater-off", false, "then switch the heater off and go on feeding")
	numberFlag(fs, &ramp, "ramp", 0, unit.Bound{Lo: 0.1, Hi: 600, Unit: "K/min", Either: true},
		"after --feed, ramp the set point by %s")
	numberFlag(fs, &then, "then", 300, unit.Bound{Lo: 0.1, Hi: 36000, Unit: "s"},
		"longest time of heater off or ramp, %s; it ends when the feeder fails")
	numberFlag(fs, &column, "column", 50, unit.Bound{Lo: 0, Hi: 5000, Unit: "mm"},
		"length of loaded filament between gear and melt, %s, for the elastic lag")
	over.flags(fs)
	out.flags(fs)
	return c
}
