package cli

import (
	"encoding/json"

	"github.com/spf13/cobra"

	"meltload/flow/study"
)

func newSchema() *cobra.Command {
	var names []string
	for _, k := range study.Kinds() {
		names = append(names, k.Command)
	}
	return &cobra.Command{
		Use:     "schema command",
		GroupID: "prepare",
		Short:   "Print the JSON Schema of the result of a command",
		Long: `Schema prints what the JSON of a command (--json) holds: every key, its type, its meaning and its unit,
as a JSON Schema (draft 2020-12). A number that is not known is null, never 0.`,
		Example:           "  meltload schema assess",
		Args:              args(cobra.ExactArgs(1)),
		ValidArgsFunction: cobra.FixedCompletions(names, cobra.ShellCompDirectiveNoFileComp),
		RunE: func(c *cobra.Command, a []string) error {
			if err := oneOf("command", a[0], names); err != nil {
				return err
			}
			e := json.NewEncoder(c.OutOrStdout())
			e.SetIndent("", "  ")
			e.SetEscapeHTML(false)
			return e.Encode(study.Schema(a[0]))
		},
	}
}
