package studies

import (
	"math"
	"strings"

	"trammel/kin"
)

// gapsAtDesign says how near the solids of each clearance stand at design, for a file that names no travel over which they could
// be looked at.
func (c *check) gapsAtDesign() {
	if len(c.g.Clearances) == 0 {
		return
	}
	here := []travels{{name: "design", way: way{wheels: kin.BothWheels}, wheel: []float64{0}, rack: []float64{0}, roll: []float64{0}}}
	c.line("Clearances, at design alone:")
	for i := range c.g.Clearances {
		of := &c.g.Clearances[i]
		t, least := c.tightest(of, here), c.g.Units.ToMM(of.Min)
		if !math.IsInf(t.gap, 1) {
			c.line("  %s: %s (%s or more)%s%s.", strings.TrimSuffix(t.measure, ".clearance"), c.short(t.gap), inUnit(c.g, least), t.solids, tooLittle(t.gap, least))
		}
	}
}
