package cli

import (
	"encoding/json"

	"github.com/spf13/cobra"

	"meltload/flow/casefile"
	"meltload/flow/study"
)

// caseSchema is the word for the schema of case files.
const caseSchema = "case"

func newSchema() *cobra.Command {
	names := []string{caseSchema}
	for _, k := range study.Kinds() {
		names = append(names, k.Command)
	}
	return &cobra.Command{
		Use:     "schema command|case",
		GroupID: "prepare",
		Short:   "Print the JSON Schema of the result of a command, or of case files",
		Long: `Schema prints what the JSON of a command (--json) holds: every key, its type, its meaning and its unit,
as a JSON Schema (draft 2020-12). A number that is not known is null, never 0.

"schema case" prints what a case file may hold, with bounds, allowed words and defaults (draft 7). Editors that know
TOML complete and check by it: many read its name from a first line such as  #:schema ./case.schema.json`,
		Example: `  meltload schema assess
  meltload schema case > case.schema.json`,
		Args:              args(cobra.ExactArgs(1)),
		ValidArgsFunction: cobra.FixedCompletions(names, cobra.ShellCompDirectiveNoFileComp),
		RunE: func(c *cobra.Command, a []string) error {
			if err := oneOf("command", a[0], names); err != nil {
				return err
			}
			e := json.NewEncoder(c.OutOrStdout())
			e.SetIndent("", "  ")
			e.SetEscapeHTML(false)
			if a[0] == caseSchema {
				return e.Encode(casefile.Schema())
			}
			return e.Encode(study.Schema(a[0]))
		},
	}
}
