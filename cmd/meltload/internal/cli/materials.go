package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"meltload/flow/casefile"
	"meltload/flow/rheometry"
	"meltload/materials"
	"meltload/materials/unit"
	"meltload/report"
)

func newMaterials() *cobra.Command {
	var source bool
	c := &cobra.Command{
		Use:     "materials [name]",
		GroupID: "prepare",
		Short:   "List the built-in materials, or show one with its sources",
		Long: `Materials lists the built-in materials: processing window, flow point, viscosity at two
shear rates in the middle of the window, and how far the viscosity law can be trusted
(A to D; D is a placeholder). With a name it shows every value with trust and source.`,
		Example: `  meltload materials
  meltload materials petg

  # a pattern for a material record of your own
  meltload materials pla --record > mine.toml`,
		Args:              args(cobra.MaximumNArgs(1)),
		ValidArgsFunction: cobra.FixedCompletions(materials.Names(), cobra.ShellCompDirectiveNoFileComp),
		RunE: func(c *cobra.Command, a []string) error {
			w := c.OutOrStdout()
			if len(a) == 0 {
				if source {
					return usageError{fmt.Errorf("--record needs a material name")}
				}
				report.TextTable(w, materialList())
				return nil
			}
			m, err := materials.Get(a[0])
			if err != nil {
				return usageError{err}
			}
			if source {
				b, err := materials.Source(m.ID)
				if err != nil {
					return err
				}
				_, err = w.Write(b)
				return err
			}
			fmt.Fprintf(w, "%s (%s), viscosity confidence %s\n", m.Name, m.ID, m.Confidence)
			for _, x := range m.Warnings() {
				fmt.Fprintln(w, report.Wrap(x.Message, 88, "! "))
			}
			fmt.Fprintf(w, "%s\n%s\n\n", report.Wrap("hazard: "+m.Hazard, 88, ""),
				report.Wrap("drying: "+m.Drying, 88, ""))
			t := report.Texts("", "Values", "value", "number", "trust", "source")
			for _, o := range m.Origins {
				t.Row(o.Key, o.Value, string(o.Trust), o.Source)
			}
			report.TextTable(w, t)
			mfr := report.Texts("", "\nMelt flow rate: computed by the law, and published", "degC", "kg", "computed",
				"published", "unit", "source")
			for _, f := range m.FlowRates {
				v, u := rheometry.ISO1133.MFR(m, f.T, f.Load), "g/10 min"
				if f.Volume {
					v, u = rheometry.ISO1133.VolumeRate(&m.Viscosity, f.T, f.Load)*600e6, "cm3/10 min"
				}
				mfr.Row(fmt.Sprintf("%.0f", unit.Celsius(f.T)), fmt.Sprint(f.Load), fmt.Sprintf("%.3g", v),
					fmt.Sprintf("%g to %g", f.Low, f.High), u, f.Source)
			}
			if len(mfr.Rows) > 0 {
				report.TextTable(w, mfr)
			}
			fmt.Fprintln(w, "\nSources")
			for _, o := range keysOf(m.Sources) {
				fmt.Fprintln(w, report.Wrap(m.Sources[o], 88, "  "+o+": "))
			}
			return nil
		},
	}
	c.Flags().BoolVar(&source, "record", false, "print the record as TOML")
	return c
}

func keysOf(m map[string]string) []string {
	var out []string
	for k := range m {
		i := len(out)
		for i > 0 && out[i-1] > k {
			i--
		}
		out = append(out[:i], append([]string{k}, out[i:]...)...)
	}
	return out
}

func materialList() report.Table {
	t := report.Texts("", "Built-in materials", "name", "material", "window degC", "flow point degC", "Pa s at 100 1/s",
		"Pa s at 1000 1/s", "confidence")
	for _, n := range materials.Names() {
		m, err := materials.Get(n)
		if err != nil {
			continue
		}
		T := (m.Window[0] + m.Window[1]) / 2
		conf := m.Confidence
		if m.Placeholder {
			conf += " placeholder"
		}
		t.Row(n, m.Name, fmt.Sprintf("%.0f-%.0f", unit.Celsius(m.Window[0]), unit.Celsius(m.Window[1])),
			fmt.Sprintf("%.0f", unit.Celsius(m.FlowPoint())),
			fmt.Sprintf("%.0f", m.Viscosity.Eta(100, T, 0)), fmt.Sprintf("%.0f", m.Viscosity.Eta(1000, T, 0)), conf)
	}
	return t
}

func newKeys() *cobra.Command {
	return &cobra.Command{
		Use:     "keys",
		GroupID: "prepare",
		Short:   "List every key of the case file: unit, allowed values, default",
		Example: "  meltload keys",
		Args:    args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			t := report.Texts("", "Keys of a case file ([] marks a repeated table)", "key", "allowed",
				"default", "meaning")
			for _, k := range casefile.Keys() {
				d := k.Default
				if k.Need {
					d = "(needed)"
				}
				t.Row(k.Path, k.Allowed, d, k.Doc)
			}
			report.TextTable(c.OutOrStdout(), t)
			return nil
		},
	}
}
