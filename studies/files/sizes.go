package files

import (
	"fmt"
	"math"
)

// usual is between which lengths, in mm, something of a car lies: bounds so wide that what lies beyond them is a slip of the
// unit or of a point, as a rule. They are common practice, no source: from a kart to a lorry.
type usual struct {
	key         string // under its section
	least, most float64
}

var usualSizes = map[string][]usual{
	"vehicle": {{"wheelbase", 800, 8000}, {"centre_of_gravity", 100, 2000}},
	"wheel":   {{"loaded_radius", 100, 800}},
	"tyre":    {{"diameter", 160, 1800}, {"width", 40, 700}},
	"rim":     {{"diameter", 80, 800}, {"width", 40, 600}},
	"travel":  {{"bump", 3, 600}, {"droop", 3, 600}, {"rack", 3, 400}},
	"build":   {{"error", 0, 10}},
}

// usualTrack is that of what wheel centres are apart.
var usualTrack = usual{"track", 500, 3500}

// noteSizes remarks on lengths that no car has.
func (g *draft) noteSizes(m map[string]field) {
	sections := map[string]field{}
	for _, name := range []string{"vehicle", "wheel", "travel", "build"} {
		if f, given := m[name]; given {
			sections[name] = f
		}
	}
	if f, given := sections["wheel"]; given {
		for _, name := range []string{"tyre", "rim"} {
			if c, ok := f.under(name); ok {
				sections[name] = c
			}
		}
	}
	sizes := map[string]map[string]int64{
		"vehicle": {"wheelbase": g.Vehicle.Wheelbase, "centre_of_gravity": g.Vehicle.CentreOfGravity},
		"wheel":   {"loaded_radius": g.Wheel.LoadedRadius},
		"tyre":    {"diameter": g.Wheel.Tyre.Diameter, "width": g.Wheel.Tyre.Width},
		"rim":     {"diameter": g.Wheel.Rim.Diameter, "width": g.Wheel.Rim.Width},
		"travel":  {"bump": g.Travel.Bump, "droop": g.Travel.Droop, "rack": g.Travel.Rack},
		"build":   {"error": g.Build.Error},
	}
	for _, section := range sortedKeys(sections) {
		for _, of := range usualSizes[section] {
			if c, given := sections[section].under(of.key); given {
				g.w.noteSize(c.pos(), c.path, c.label, sizes[section][of.key], of, "")
			}
		}
	}
	if d, ok := g.outward(g.Wheel.Centre); ok && g.framed && d > 0 {
		p := g.Points[g.index[g.Wheel.Centre]]
		w := g.walkOf(p)
		w.noteSize(p.Pos, pointPath(p.Name), fmt.Sprintf("%s lies %s %s from the centre line, so that the track", p.Name, w.units.Format(d), w.units), 2*d, usualTrack, "; look at the point, units and origin")
	}
}

// under returns a value of a mapping by its key.
func (f field) under(key string) (field, bool) {
	for i := 0; i+1 < len(f.node.Content); i += 2 {
		if k := f.node.Content[i]; k.Value == key {
			return f.child(k, f.node.Content[i+1]), true
		}
	}
	return field{}, false
}

// noteSize remarks on a length of so many quanta that lies beyond what is usual; none is nothing to remark on. The remark ends
// with what to look at, or with the unit that was probably meant.
func (w *walk) noteSize(pos Position, path, label string, n int64, of usual, end string) {
	mm := w.units.ToMM(n)
	if n == 0 || mm >= of.least && mm <= of.most {
		return
	}
	show := func(mm float64) string { return w.units.Example(fmt.Sprintf("~%.0f", mm)) }
	between := fmt.Sprintf("between %s and %s %s", show(of.least), show(of.most), w.units)
	if of.least == 0 {
		between = fmt.Sprintf("up to %s %s", show(of.most), w.units)
	}
	w.note(pos, path, "%s is %s %s, and of cars it lies %s (common practice, no source)%s", label, w.units.Format(n), w.units, between, orElse(end, w.otherUnit(n, of)))
}

// otherUnit says which unit was probably meant by a number whose length is none of what is usual: the one in which it comes
// nearest to the middle of that. Where none fits it says so.
func (w *walk) otherUnit(n int64, of usual) string {
	if of.least == 0 {
		return "; look at its number and unit"
	}
	best, write, off := "", "", math.Log(of.most/of.least)/2
	for _, u := range []struct {
		name, words string
		mm          float64
	}{{"m", "metres", 1000}, {"cm", "centimetres", 10}, {"mm", "millimetres", 1}, {"in", "inches", 25.4}, {"ft", "feet", 304.8}} {
		mm := w.units.Value(n) * u.mm
		d := math.Abs(math.Log(mm / math.Sqrt(of.least*of.most)))
		if u.name == w.units.String() || d >= off {
			continue
		}
		best, off = u.words, d
		if write = w.units.Format(w.units.FromMM(mm)); u.name == "mm" || u.name == "in" {
			write = w.units.Format(n) + u.name
		}
	}
	if best == "" {
		return "; look at its number and unit"
	}
	return fmt.Sprintf("; if it is in %s, write %s", best, write)
}
