package cli

import (
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Every flag that takes numbers refuses what is no sensible number, before anything is read or computed, and says its
// bounds.
func TestEveryNumberFlagRefusesNonsense(t *testing.T) {
	absurd := []string{"nan", "NaN", "inf", "-inf", "Inf", "1e300", "-1e300", "0x10", "1_0", "", "x", "1e999"}
	flags := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			switch f.Value.Type() {
			case "float64", "float32", "int", "int64":
				t.Errorf("%s --%s takes numbers without bounds", c.CommandPath(), f.Name)
			case "number", "list":
				if _, words := f.Value.(*choices); words {
					return
				}
				flags++
				was := f.Value.String()
				for _, s := range absurd {
					if err := f.Value.Set(s); err == nil {
						t.Errorf("%s --%s takes %q", c.CommandPath(), f.Name, s)
					}
				}
				if f.Value.String() != was {
					t.Errorf("%s --%s: a refused value changed it to %s", c.CommandPath(), f.Name, f.Value)
				}
			}
		})
	}
	walk(newRoot())
	if flags < 25 {
		t.Errorf("only %d flags found", flags)
	}
}
