package files

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"trammel/kin"
)

// Encode returns the geometry as a commented geometry file; reading it gives the same geometry.
func (g *Geometry) Encode() []byte {
	var b bytes.Buffer
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("format: 1")
	line("name: %s", yamlText(g.Name))
	line("units: %s", g.Units)
	line("axes: {x: %s, y: %s, z: %s}   # what +x, +y and +z point to", g.Axes[0], g.Axes[1], g.Axes[2])
	if g.LeftHanded {
		line("handed: left   # a left-handed set of axes, as meant")
	}
	line("origin: %s   # a point on the car's centre line", g.triple(g.Origin))
	line("side: %s   # the other side is the mirror image", g.Side)
	line("")
	line("points:   # at ride height, in %s", g.Units.plural())
	widest := 0
	for _, p := range g.Points {
		widest = max(widest, len(p.Name))
	}
	for _, p := range g.Points {
		line("  %-*s %s", widest+1, p.Name+":", g.triple(p.N))
	}
	line("")
	line("members:")
	for _, m := range g.Members {
		line("  %s: {%s}", m.Name, g.member(m))
	}
	line("")
	line("wheel: {centre: %s, camber: %s, toe: %s, loaded_radius: %s}   # angles in deg; the ground lies loaded_radius below",
		g.Wheel.Centre, decimal(g.Wheel.Camber), decimal(g.Wheel.Toe), g.Units.Format(g.Wheel.LoadedRadius))
	if g.Vehicle.Wheelbase > 0 {
		line("vehicle: {wheelbase: %s}", g.Units.Format(g.Vehicle.Wheelbase))
	}
	if t := g.Travel; t != (Travel{}) {
		line("travel: {bump: %s, droop: %s, rack: %s}   # default motions", g.Units.Format(t.Bump), g.Units.Format(t.Droop), g.Units.Format(t.Rack))
	}
	if parts := g.build(); parts != "" {
		line("build: {%s}   # what the shop can do", parts)
	}
	return b.Bytes()
}

// EncodePoints returns the points as the CSV table that `points:` reads: name,x,y,z in the file's units.
func (g *Geometry) EncodePoints() []byte {
	var b bytes.Buffer
	b.WriteString("name,x,y,z\n")
	for _, p := range g.Points {
		fmt.Fprintf(&b, "%s,%s,%s,%s\n", p.Name, g.Units.Format(p.N[0]), g.Units.Format(p.N[1]), g.Units.Format(p.N[2]))
	}
	return b.Bytes()
}

func (g *Geometry) triple(n [3]int64) string {
	return "[" + g.Units.Format(n[0]) + ", " + g.Units.Format(n[1]) + ", " + g.Units.Format(n[2]) + "]"
}

func (g *Geometry) member(m Member) string {
	switch m.Kind {
	case kin.Arm:
		return fmt.Sprintf("arm: [%s, %s], ball: %s", m.Points[0], m.Points[1], m.Points[2])
	case kin.Rocker:
		return fmt.Sprintf("rocker: [%s, %s]", m.Points[0], m.Points[1])
	}
	s := fmt.Sprintf("%s: [%s, %s], ends: [%s, %s]", m.Kind, m.Points[0], m.Points[1], m.Bodies[0], m.Bodies[1])
	var ends []string
	if m.Length.Min != nil {
		ends = append(ends, "min: "+g.Units.Format(*m.Length.Min))
	}
	if m.Length.Max != nil {
		ends = append(ends, "max: "+g.Units.Format(*m.Length.Max))
	}
	if ends != nil {
		s += ", length: {" + strings.Join(ends, ", ") + "}"
	}
	return s
}

func (g *Geometry) build() string {
	var parts []string
	if g.Build.Error > 0 {
		parts = append(parts, "error: "+g.Units.Format(g.Build.Error))
	}
	if g.Build.Step > 0 {
		parts = append(parts, "step: "+g.Units.Format(g.Build.Step))
	}
	return strings.Join(parts, ", ")
}

// decimal writes a double so that reading gives the same double.
func decimal(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// yamlText writes a title: as it is where YAML cannot misread it, else in double quotes.
func yamlText(s string) string {
	safe := s != "" && strings.IndexFunc(s, func(r rune) bool {
		return r != ' ' && r != '-' && r != '_' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
	}) < 0 && (s[0] >= 'a' && s[0] <= 'z' || s[0] >= 'A' && s[0] <= 'Z')
	switch strings.ToLower(s) {
	case "null", "true", "false", "yes", "no", "on", "off", "y", "n":
		safe = false
	}
	if safe {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == utf8.RuneError || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
