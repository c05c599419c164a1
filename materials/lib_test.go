package materials

import "testing"

func TestLib(t *testing.T) {
	for _, n := range Names() {
		m, _ := Get(n)
		t.Log(n, m.Viscosity.Eta(1000, m.Window[1], 0), m.FlowPoint()-273.15, len(m.Origins))
	}
}
