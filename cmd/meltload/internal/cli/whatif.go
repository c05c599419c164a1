package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"meltload/cmd/meltload/internal/whatif"
	"meltload/cmd/meltload/internal/whatif/serve"
	"meltload/flow/casefile"
	"meltload/materials/unit"
)

func newWhatIf() *cobra.Command {
	var port int
	c := &cobra.Command{
		Use:     "whatif [case.toml...]",
		GroupID: "answer",
		Short:   "Open a page on this machine that answers while you change the case",
		Long: `Whatif serves a page on this machine only (127.0.0.1): change temperature, nozzle, feeder, material or
flow, and see verdict, load over capability and the melt zone at once, from the marching solver. The page
is a case file with handles: save it to keep or share it. Further case files lend their feeders.

Nothing leaves the machine, nothing is written to it. Ctrl-C ends it.`,
		Example: `  meltload whatif

  # your own case, and the feeder of another to try in it
  meltload whatif my-bench.toml other.toml --port 8210`,
		RunE: func(c *cobra.Command, a []string) error {
			sources := []whatif.Source{{File: casefile.BuiltInName, Text: casefile.BuiltIn}}
			if len(a) > 0 {
				sources = nil
				for _, f := range a {
					b, err := readText(c, f)
					if err != nil {
						return err
					}
					sources = append(sources, whatif.Source{File: f, Text: b})
				}
			}
			return serve.Serve(c.Context(), sources, port, func(url string) {
				fmt.Fprintf(c.OutOrStdout(), "The page is at %s\nCtrl-C ends it.\n", url)
			})
		},
	}
	wholeFlag(c.Flags(), &port, "port", 0, unit.Bound{Lo: 1024, Hi: 65535, Zero: true},
		"port on 127.0.0.1 %s; 0 takes any free one")
	return c
}
